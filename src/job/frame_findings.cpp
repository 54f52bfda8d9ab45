#include "frame_findings.h"

#include "glassine/base/text.h"

#include <algorithm>
#include <string>
#include <string_view>
#include <unordered_map>
#include <unordered_set>

#include <fmt/format.h>

namespace glassine::job {
namespace {

/// "A, B, C and 12 more".
std::string listed(std::span<const std::string> names) {
    constexpr std::size_t shown = 8;
    std::string all;
    for (std::size_t i = 0; i < std::min(names.size(), shown); ++i)
        all += (i == 0 ? "" : ", ") + names[i];
    if (names.size() > shown) all += fmt::format(" and {} more", names.size() - shown);
    return all;
}

/// The deepest folder that holds all of the paths; empty when there is none.
std::string common_folder(std::span<const std::string> paths) {
    std::string common(folder_of(paths.front()));
    for (const std::string& path : paths) {
        while (!common.empty() && !path.starts_with(common + '/'))
            common = folder_of(common);
    }
    return common;
}

bool has_raw(Files files, const std::vector<std::size_t>& some) {
    return std::ranges::any_of(some, [&](std::size_t i) { return files[i].role == Role::raw; });
}

}  // namespace

std::size_t first_file(const Frame& frame) {
    for (const auto* some :
         {&frame.originals, &frame.rejected, &frame.proxies, &frame.print, &frame.web}) {
        if (!some->empty()) return some->front();
    }
    return 0;
}

std::vector<Finding> deliveries_without_original(Files files, Frames frames) {
    std::vector<Finding> findings;
    for (const Frame& frame : frames) {
        const std::size_t pictures = frame.print.size() + frame.web.size();
        if (frame.state == FrameState::kept || pictures == 0) continue;
        const std::size_t first = frame.print.empty() ? frame.web.front() : frame.print.front();
        std::string detail = frame.state == FrameState::rejected
                                 ? "is delivered, but its original " +
                                       files[first_file(frame)].shown + " lies in the rejects"
                                 : std::string("has no original among the kept ones");
        if (pictures > 1)
            detail += "; so have " + text::counted(pictures - 1, "more picture") + " of this frame";
        findings.push_back(
            found(FindingKind::delivered_without_original, files[first].shown, std::move(detail)));
    }
    return findings;
}

std::vector<Finding> originals_not_delivered(Files files, Frames frames) {
    std::vector<std::string> names;
    std::vector<std::string> paths;
    std::size_t kept = 0;
    for (const Frame& frame : frames) {
        if (frame.state != FrameState::kept) continue;
        ++kept;
        if (!frame.print.empty() || !frame.web.empty()) continue;
        names.push_back(frame.name);
        paths.push_back(files[frame.originals.front()].shown);
    }
    if (names.empty()) return {};
    if (names.size() == 1)
        return {found(FindingKind::original_not_delivered, paths[0], "was never delivered")};
    std::ranges::sort(names);
    return {found(FindingKind::original_not_delivered, common_folder(paths),
                  fmt::format("{} of {} were never delivered: {}", names.size(),
                              text::counted(kept, "kept frame"), listed(names)))};
}

std::vector<Finding> rejects_without_proxy(Files files, Frames frames,
                                           std::span<const Observed> observed) {
    std::vector<Finding> findings;
    for (const Frame& frame : frames) {
        if (!frame.proxies.empty() || frame.state == FrameState::kept) continue;
        const bool made = std::ranges::any_of(
            frame.rejected, [&](std::size_t i) { return observed[i].proxy_made; });
        if (made || !has_raw(files, frame.rejected)) continue;
        const std::size_t raw = frame.rejected.front();
        const std::string& why = observed[raw].proxy_why;
        findings.push_back(found(FindingKind::reject_without_proxy, files[raw].shown,
                                 why.empty() ? "is rejected and has no JPEG that stands for it"
                                             : "has no JPEG and none could be made: " + why));
    }
    return findings;
}

std::vector<Finding> orphans(Files files, std::span<const std::size_t> sidecars) {
    std::unordered_map<std::string, std::size_t> elsewhere;
    for (std::size_t i = 0; i < files.size(); ++i) {
        if (files[i].role == Role::raw)
            elsewhere.try_emplace(text::fold_case(stem_of(file_name_of(files[i].shown))), i);
    }
    std::vector<Finding> findings;
    for (const std::size_t i : sidecars) {
        const auto at = elsewhere.find(text::fold_case(stem_of(file_name_of(files[i].shown))));
        std::string detail = "stands without the raw that it belongs to";
        if (at != elsewhere.end())
            detail += " (" + files[at->second].shown + " lies in another folder)";
        findings.push_back(found(FindingKind::sidecar_orphan, files[i].shown, std::move(detail)));
    }
    return findings;
}

std::vector<Finding> duplicate_contents(Files files, std::span<const Observed> observed) {
    std::unordered_map<std::string, std::size_t> seen;
    std::vector<Finding> findings;
    for (std::size_t i = 0; i < files.size(); ++i) {
        // Sidecars that say the same are no fault; empty files are one of their own.
        if (observed[i].sha512.empty() || files[i].size == 0 || files[i].role == Role::sidecar)
            continue;
        const auto [at, is_new] = seen.try_emplace(observed[i].sha512.hex(), i);
        if (is_new) continue;
        findings.push_back(found(FindingKind::duplicate_content, files[i].shown,
                                 "holds the same bytes as " + files[at->second].shown));
    }
    return findings;
}

}  // namespace glassine::job

#include "journeys/mend_recovery_files.h"

#include "glassine/io/files.h"

#include <algorithm>
#include <set>
#include <utility>

namespace glassine::journeys {
namespace {

bool is_payload_window(const recovery::Window& window) {
    return window.group == recovery::Group::payload;
}

/// All files of one group are lost: the plan is made again, as the encoder made it.
std::vector<recovery::Window> windows_of_lost_group(io::FileSystem& files, const io::Path& bag,
                                                    const MendLook& look, bool payload_lost) {
    std::vector<recovery::FileSize> lost;
    std::uint64_t payload_bytes = 0;
    for (const auto& [name, proof] : look.proofs.all()) {
        if (recovery::is_file_name(name)) continue;
        const auto info = files.find(bag / name);
        if (!info) return {};
        if (is_payload(name)) payload_bytes += info->size;
        if (is_payload(name) == payload_lost) lost.push_back({name, info->size});
    }
    recovery::Options options;
    options.percent = look.set->percent();
    return recovery::plan(payload_lost ? recovery::Group::payload : recovery::Group::tags,
                          std::move(lost), options, payload_bytes);
}

/// Both groups: else the tag manifest would forget one.
bool has_both_groups(const std::vector<recovery::Window>& windows) {
    return std::ranges::any_of(windows, is_payload_window) &&
           !std::ranges::all_of(windows, is_payload_window);
}

std::vector<recovery::Window> windows_of(const MendLook& look) {
    std::vector<recovery::Window> windows;
    for (const recovery::CoveredWindow& covered : look.set->windows())
        windows.push_back(covered.window);
    return windows;
}

std::set<std::string> tag_names(const Proofs& proofs) {
    std::set<std::string> names;
    for (const auto& [name, proof] : proofs.all())
        if (!is_payload(name)) names.insert(name);
    return names;
}

/// A copy whose tag manifest says of each of the bag's tag files what it is.
std::optional<WholeTagManifest> from_another_copy(io::FileSystem& files, const MendPlace& place,
                                                  const MendLook& look) {
    for (const io::Path& other : place.others)
        try {
            std::string text = io::read_small_file(files, other / tag_manifest_name());
            const auto here = tag_manifest_from(files, place.bag, tag_names(look.proofs));
            if (here == text) return WholeTagManifest{std::move(text), other.string()};
        } catch (const Error&) {
            continue;  // this copy has none that can be read
        }
    return std::nullopt;
}

}  // namespace

std::vector<recovery::Window> known_windows(io::FileSystem& files, const io::Path& bag,
                                            const MendLook& look) {
    std::vector<recovery::Window> windows = windows_of(look);
    if (!windows.empty() && !has_both_groups(windows))
        std::ranges::move(
            windows_of_lost_group(files, bag, look, !is_payload_window(windows.front())),
            std::back_inserter(windows));
    return windows;
}

std::optional<WholeTagManifest> whole_tag_manifest(io::FileSystem& files, const MendPlace& place,
                                                   const MendLook& look) {
    if (look.other_tags_wrong()) return std::nullopt;
    if (!has_both_groups(windows_of(look))) return from_another_copy(files, place, look);
    std::set<std::string> names = look.sealed_tag_files();
    // What was added and listed later stays listed, as long as it is what it was.
    for (const auto& [name, proof] : look.proofs.all())
        if (!is_payload(name) &&
            digest_of_file(files, place.bag / name, proof.algorithm) == proof.digest)
            names.insert(name);
    auto text = tag_manifest_from(files, place.bag, names);
    if (!text) return std::nullopt;
    return WholeTagManifest{std::move(*text), "the files that it lists"};
}

bool tag_manifest_can_be_made(io::FileSystem& files, const MendPlace& place, const MendLook& look) {
    if (has_both_groups(known_windows(files, place.bag, look))) return true;
    const auto fits = [&](const std::string& name) {
        const Proof* proof = look.proofs.find(name);
        return look.wrong.contains(name) ||
               digest_of_file(files, place.bag / name, proof->algorithm) == proof->digest;
    };
    return std::ranges::any_of(place.others, [&](const io::Path& other) {
        return files.find(other / tag_manifest_name()) &&
               std::ranges::all_of(tag_names(look.proofs), fits);
    });
}

}  // namespace glassine::journeys

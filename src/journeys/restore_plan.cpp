#include "journeys/restore_plan.h"

#include "glassine/base/text.h"

#include <algorithm>
#include <array>
#include <map>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

std::optional<job::Section> section_of(std::string_view name) {
    for (const job::Section section : job::all_sections)
        if (name.starts_with(std::string(job::payload_folder(section)) + "/")) return section;
    return std::nullopt;
}

/// Payload files that are there or should be, by name.
std::map<std::string, flow::Item> all_payload(const BagSource& source, const Proofs& proofs) {
    const bagit::Bag& bag = source.bag();
    const io::Path root = source.context().files.resolve(source.folder());
    std::map<std::string, flow::Item> items;
    const auto add = [&](std::string name, std::uint64_t size, Timestamp modified) {
        if (!is_payload(name)) return;
        const io::Path file = root / name;
        items.emplace(name, flow::Item{0, file, name, size, modified, false});
    };
    for (bagit::Bag::Index i = 0; i < bag.listing().size(); ++i)
        if (bag.listing().is_file(i))
            add(std::string(bag.listing()[i].name), bag.listing()[i].size,
                bag.listing()[i].modified);
    for (const bagit::Bag::Missing& missing : bag.missing()) {
        const std::string name(bag.manifests()[missing.manifest].manifest[missing.entry].path);
        if (proofs.find(name) != nullptr) add(name, 0, {});
    }
    return items;
}

std::vector<job::FrameRow> photo_index(BagSource& bag) {
    const auto csv = bag.small_file(std::string(job::frames_csv_file));
    if (!csv) return {};
    try {
        return job::parse_frames_csv(*csv, bag.name());
    } catch (const Error&) {
        // Frames are then found by the names of their files; the audit tells what the index lacks.
        return {};
    }
}

std::string sections_there(const std::map<std::string, flow::Item>& items) {
    std::array<std::uint64_t, job::all_sections.size()> counts{};
    for (const auto& [name, item] : items)
        if (const auto section = section_of(name)) ++counts[job::index(*section)];
    std::string words;
    for (const job::Section section : job::all_sections)
        if (counts[job::index(section)] > 0)
            words += fmt::format("{}{}: {}", words.empty() ? "" : ", ", job::word(section),
                                 text::counted(counts[job::index(section)], "file"));
    return words;
}

class Choosing {
  public:
    Choosing(const RestoreRequest& request, BagSource& bag, const Proofs& proofs)
        : request_(request), proofs_(proofs), bag_(bag), all_(all_payload(bag, proofs)) {}

    RestorePlan choose() {
        choose_sections();
        if (request_.frames) choose_frames();
        if (names_.empty() && plan_.findings.empty()) throw nothing();
        for (const std::string& name : names_) {
            if (proofs_.find(name) == nullptr) {
                plan_.findings.push_back(found(FindingKind::payload_unlisted, name,
                                               "no manifest lists it, so nothing proves it; it was "
                                               "not handed out"));
                continue;
            }
            plan_.items.push_back(std::move(all_.at(name)));
            plan_.items.back().id = plan_.items.size() - 1;
        }
        return std::move(plan_);
    }

  private:
    void choose_sections() {
        const bool sectioned = std::ranges::any_of(
            all_, [](const auto& entry) { return section_of(entry.first).has_value(); });
        if (!sectioned && !request_.sections.empty())
            throw Error(Cause::usage, "restore", bag_.folder().string(),
                        "this bag has no sections: it was not made by a close-out",
                        "leave --section out to get all that it holds");
        std::set<job::Section> wanted = request_.sections;
        if (wanted.empty()) wanted = {job::Section::print, job::Section::web};
        for (const auto& [name, item] : all_) {
            const auto section = section_of(name);
            if (!sectioned || request_.all_sections || (section && wanted.contains(*section)))
                names_.push_back(name);
        }
    }

    void choose_frames() {
        const auto rows = photo_index(bag_);
        const job::FrameChoice::Chosen chosen = request_.frames->choose(names_, rows);
        std::vector<std::string> kept;
        for (std::size_t i = 0; i < names_.size(); ++i)
            if (chosen.files[i]) kept.push_back(std::move(names_[i]));
        names_ = std::move(kept);
        for (const std::string& item : chosen.unknown)
            plan_.findings.push_back(
                found(FindingKind::frame_unknown, item, "nothing in these sections answers to it"));
    }

    Error nothing() const {
        const std::string there = sections_there(all_);
        return {Cause::not_found, "restore", bag_.folder().string(),
                "there is nothing to hand out in these sections",
                there.empty() ? "the bag has no payload"
                              : fmt::format("ask with --section for what there is ({})", there)};
    }

    const RestoreRequest& request_;
    const Proofs& proofs_;
    BagSource& bag_;
    std::map<std::string, flow::Item> all_;
    std::vector<std::string> names_;
    RestorePlan plan_;
};

}  // namespace

RestorePlan plan_restore(const RestoreRequest& request, BagSource& bag, const Proofs& proofs) {
    return Choosing(request, bag, proofs).choose();
}

std::string handed_out_name(const std::string& bag_name) {
    return is_payload(bag_name) ? bag_name.substr(std::string_view("data/").size()) : bag_name;
}

}  // namespace glassine::journeys

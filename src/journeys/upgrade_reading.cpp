#include "journeys/upgrade_reading.h"

#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

using Index = bagit::Listing::Index;

constexpr std::string_view below_data = "data/";

std::string_view name_in_bag(const flow::Item& item) {
    std::string_view name = item.name;
    if (name.starts_with(previous_folder)) name.remove_prefix(previous_folder.size());
    return name;
}

}  // namespace

/// All digests that the old manifests ask for, of one file.
class OldManifests::Judging : public flow::Stream {
  public:
    Judging(bagit::Verdict& verdict, Index file, std::vector<digest::Algorithm> algorithms)
        : verdict_(verdict),
          file_(file),
          algorithms_(std::move(algorithms)),
          hashers_(algorithms_) {}

    void block(std::uint64_t, std::span<const std::byte> bytes) override { hashers_.update(bytes); }
    void finish(const flow::Outcome& outcome) override {
        verdict_.outcome(file_, outcome);
        if (outcome.status != flow::Status::whole) return;
        const std::vector<digest::Value> values = hashers_.finish();
        for (std::size_t i = 0; i < algorithms_.size(); ++i)
            verdict_.digest(file_, algorithms_[i], values[i]);
    }

  private:
    bagit::Verdict& verdict_;
    Index file_;
    std::vector<digest::Algorithm> algorithms_;
    digest::HasherSet hashers_;
};

OldManifests::OldManifests(bagit::Verdict& verdict) : verdict_(verdict) {
    // The verdict builds its tables when first asked, which is not for several threads at once.
    verdict_.wanted();
}

std::unique_ptr<flow::Stream> OldManifests::open(const flow::Item& item) {
    const Index file = verdict_.bag().listing().find(name_in_bag(item));
    if (file == bagit::Listing::none) return nullptr;
    std::vector<digest::Algorithm> wanted;
    for (const digest::Algorithm algorithm : verdict_.algorithms(file))
        if (verdict_.wants(file, algorithm)) wanted.push_back(algorithm);
    if (wanted.empty()) return nullptr;
    return std::make_unique<Judging>(verdict_, file, std::move(wanted));
}

job::Layout payload_as_job(const SourceTree& tree, const job::AdoptRules& rules) {
    job::Layout layout;
    for (const flow::Item& item : tree.files) {
        if (!item.name.starts_with(below_data)) continue;
        const std::string_view below = std::string_view(item.name).substr(below_data.size());
        const std::string_view folder = below.substr(0, below.find('/'));
        job::JobFile file;
        file.section =
            folder == "reject-proxies" ? job::Section::rejects
            : folder == below
                ? job::Section::originals
                : job::section_of_folder(folder, rules).value_or(job::Section::originals);
        file.path = item.path;
        file.shown = item.name;
        file.below = std::string(below);
        file.name = item.name;
        file.size = item.size;
        file.modified = item.modified;
        file.role = job::role_of(file.section, job::file_name_of(item.name));
        layout.files.push_back(std::move(file));
    }
    return layout;
}

std::vector<flow::Item> previous_tag_files(const SourceTree& tree) {
    std::vector<flow::Item> items;
    for (const flow::Item& item : tree.files) {
        if (item.name.starts_with(below_data)) continue;
        items.push_back(item);
        items.back().name = fmt::format("{}{}", previous_folder, item.name);
    }
    return items;
}

}  // namespace glassine::journeys

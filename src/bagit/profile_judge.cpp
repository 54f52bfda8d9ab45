#include "glassine/bagit/path.h"
#include "glassine/bagit/profile.h"
#include "glassine/base/text.h"
#include "words.h"

#include <algorithm>
#include <array>
#include <utility>

#include <fmt/format.h>

namespace glassine::bagit {
namespace {

/// Media types that mean the same archive (the registry knows only some of them; the others are
/// from memory, as senders write them).
constexpr std::array<std::array<std::string_view, 5>, 6> media_types{{
    {"application/zip", "application/x-zip", "application/x-zip-compressed", "multipart/x-zip", ""},
    {"application/x-tar", "application/tar", "application/x-gtar", "", ""},
    {"application/gzip", "application/x-gzip", "application/tar+gzip", "application/x-tgz",
     "application/x-compressed-tar"},
    {"application/x-bzip2", "application/bzip2", "application/x-bzip", "", ""},
    {"application/x-xz", "application/xz", "", "", ""},
    {"application/zstd", "application/x-zstd", "application/zst", "", ""},
}};

bool same_type(std::string_view a, std::string_view b) {
    const std::string left = text::ascii_lower(a);
    const std::string right = text::ascii_lower(b);
    if (left == right) return true;
    if (left.empty() || right.empty()) return false;
    return std::ranges::any_of(media_types, [&](const auto& names) {
        return std::ranges::find(names, left) != names.end() &&
               std::ranges::find(names, right) != names.end();
    });
}

class Judgement {
  public:
    Judgement(const Profile& profile, const Bag& bag, std::string_view archive,
              const std::function<void(Finding)>& report)
        : profile_(profile), bag_(bag), archive_(archive), report_(report) {}

    void run() {
        if (!version_fits() || !serialization_fits()) return;
        check_identifier();
        for (const Profile::Tag& tag : profile_.tags)
            check_tag(tag);
        check_manifests(ManifestKind::payload, profile_.manifests_required,
                        profile_.manifests_allowed);
        check_manifests(ManifestKind::tag, profile_.tag_manifests_required,
                        profile_.tag_manifests_allowed);
        check_fetch();
        check_empty();
        check_required(profile_.tag_files_required);
        check_required(profile_.payload_files_required);
        check_allowed();
    }

  private:
    void miss(std::string_view path, std::string detail) {
        report_(found(FindingKind::profile_mismatch, std::string(path), std::move(detail)));
    }

    bool version_fits() {
        const auto& accepted = profile_.accepted_versions;
        const std::string& version = bag_.declaration().version;
        if (accepted.empty() || std::ranges::find(accepted, version) != accepted.end()) return true;
        miss(declaration_file,
             fmt::format("the profile takes BagIt {}, and the bag declares {}; "
                         "the rest of the profile was not judged",
                         listed(accepted), version.empty() ? "none" : excerpt(version)));
        return false;
    }

    bool serialization_fits() {
        using enum Profile::Serialization;
        if (archive_.empty() && profile_.serialization == required) {
            miss("",
                 "the profile asks for a bag packed into one archive file, and this is a "
                 "folder; the rest of the profile was not judged");
            return false;
        }
        if (archive_.empty()) return true;
        if (profile_.serialization == forbidden) {
            miss("",
                 "the profile asks for a folder, and this is an archive; the rest of the "
                 "profile was not judged");
            return false;
        }
        const auto& accepted = profile_.accepted_archives;
        const bool fits = accepted.empty() || std::ranges::any_of(accepted, [this](const auto& t) {
                              return same_type(t, archive_);
                          });
        if (!fits)
            miss("", fmt::format("the profile takes archives of the types {}, and this is {}; the "
                                 "rest of the profile was not judged",
                                 listed(accepted), archive_));
        return fits;
    }

    void check_identifier() {
        const auto values = bag_.info().values(profile_label);
        if (std::ranges::find(values, profile_.identifier) != values.end()) return;
        miss(bag_.rules().metadata_file,
             values.empty() ? fmt::format("it has no {}; this profile's is {}", profile_label,
                                          excerpt(profile_.identifier))
                            : fmt::format("it names the profile {}, not {}",
                                          excerpt(values.front()), excerpt(profile_.identifier)));
    }

    void check_tag(const Profile::Tag& tag) {
        const std::string_view file = bag_.rules().metadata_file;
        const auto values = bag_.info().values(tag.label);
        if (values.empty()) {
            if (tag.required)
                miss(file, fmt::format("the profile asks for {}", excerpt(tag.label)));
            return;
        }
        if (!tag.repeatable && values.size() > 1)
            miss(file, fmt::format("{} occurs {} times, and the profile allows it once",
                                   excerpt(tag.label), values.size()));
        if (tag.values.empty()) return;
        for (const std::string& value : values)
            if (std::ranges::find(tag.values, value) == tag.values.end())
                miss(file, fmt::format("{} is “{}”, and the profile allows {}", excerpt(tag.label),
                                       excerpt(value), excerpt(listed(tag.values), 240)));
    }

    void check_manifests(ManifestKind kind, const Profile::Names& required,
                         const Profile::Allowed& allowed) {
        std::vector<std::string> there;
        for (const Bag::Matched& m : bag_.manifests())
            if (m.manifest.name().kind == kind) there.push_back(m.manifest.name().algorithm);
        const std::string_view prefix = kind == ManifestKind::payload ? "manifest" : "tagmanifest";
        const auto file = [&](const std::string& algorithm) {
            return fmt::format("{}-{}.txt", prefix, excerpt(algorithm));
        };
        for (const std::string& algorithm : required)
            if (std::ranges::find(there, algorithm) == there.end())
                miss(file(algorithm), "the profile asks for this manifest, and it is not there");
        if (!allowed) return;
        for (const std::string& algorithm : there)
            if (std::ranges::find(*allowed, algorithm) == allowed->end())
                miss(file(algorithm), "the profile does not allow a manifest of this algorithm");
    }

    bool has_file(std::string_view path) const {
        const Bag::Index file = bag_.listing().find(path);
        return file != Listing::none && bag_.listing().is_file(file);
    }

    void check_fetch() {
        const bool there = has_file(fetch_file);
        if (there && !profile_.fetch_allowed) miss(fetch_file, "the profile allows no fetch.txt");
        if (!there && profile_.fetch_required)
            miss(fetch_file, "the profile asks for a fetch.txt, and there is none");
    }

    void check_empty() {
        const Listing& listing = bag_.listing();
        if (!profile_.data_empty || listing.payload_files() == 0 ||
            (listing.payload_files() == 1 && listing.payload_bytes() == 0))
            return;
        miss(payload_directory,
             "the profile asks for an empty payload: no file, or one of no byte");
    }

    /// A path that ends in `/` asks for something in that folder.
    void check_required(const Profile::Names& paths) {
        for (const std::string& path : paths) {
            if (path.ends_with('/') ? has_in_folder(path) : has_file(path)) continue;
            miss(excerpt(path), path.ends_with('/')
                                    ? "the profile asks for something in this folder"
                                    : "the profile asks for this file, and it is not there");
        }
    }

    bool has_in_folder(std::string_view folder) const {
        const Listing& listing = bag_.listing();
        for (Bag::Index i = 0; i < listing.size(); ++i)
            if (listing[i].name.size() > folder.size() && listing[i].name.starts_with(folder))
                return true;
        return false;
    }

    /// The standard's own files are not meant by Tag-Files-Allowed.
    bool of_the_standard(std::string_view name) const {
        return name == declaration_file || name == bag_.rules().metadata_file ||
               name == fetch_file || manifest_name(name).has_value();
    }

    void check_allowed() {
        if (!profile_.tag_files_allowed && !profile_.payload_files_allowed) return;
        const Listing& listing = bag_.listing();
        for (Bag::Index i = 0; i < listing.size(); ++i) {
            const std::string_view name = listing[i].name;
            if (!listing.is_file(i) || of_the_standard(name)) continue;
            const Profile::Allowed& allowed =
                in_payload(name) ? profile_.payload_files_allowed : profile_.tag_files_allowed;
            const bool fits = !allowed || std::ranges::any_of(*allowed, [&](const auto& pattern) {
                return matches_pattern(name, pattern);
            });
            if (!fits) miss(name, "the profile allows no file of this path");
        }
    }

    const Profile& profile_;
    const Bag& bag_;
    std::string_view archive_;
    const std::function<void(Finding)>& report_;
};

}  // namespace

void judge_by_profile(const Profile& profile, const Bag& bag, std::string_view archive,
                      const std::function<void(Finding)>& report) {
    Judgement(profile, bag, archive, report).run();
}

}  // namespace glassine::bagit

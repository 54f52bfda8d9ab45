#pragma once

#include "glassine/bagit/bag.h"

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// BagIt Profiles 1.x: what sender and receiver agree on beyond the standard. A profile is read
/// from a file that the user names and never fetched. Rules are cited as `BP §` of the BagIt
/// Profiles Specification 1.4.0; docs/bagit-decisions.md tells what was decided where it leaves
/// room.
namespace glassine::bagit {

struct Profile {
    enum class Serialization { forbidden, required, optional };

    /// What is asked of one label of bag-info.txt.
    struct Tag {
        std::string label;
        bool required = false;
        bool repeatable = true;
        std::vector<std::string> values;  ///< empty: any
    };
    using Names = std::vector<std::string>;
    /// Nothing: everything is allowed.
    using Allowed = std::optional<Names>;

    std::string identifier;               ///< BagIt-Profile-Identifier, a URI
    std::string version;                  ///< of the profile
    std::string specification = "1.1.0";  ///< BagIt-Profile-Version; 1.1.0 where it is not told
    std::string issuer;                   ///< Source-Organization
    std::string description;              ///< External-Description

    std::vector<Tag> tags;
    Names manifests_required;  ///< algorithms, normalised as RFC 8493 §2.4 says
    Allowed manifests_allowed;
    Names tag_manifests_required;
    Allowed tag_manifests_allowed;
    bool fetch_allowed = true;
    bool fetch_required = false;
    bool data_empty = false;
    Serialization serialization = Serialization::optional;
    Names accepted_archives;  ///< media types
    Names accepted_versions;
    Names tag_files_required;   ///< paths
    Allowed tag_files_allowed;  ///< patterns
    Names payload_files_required;
    Allowed payload_files_allowed;
};

/// Reads a profile (JSON, RFC 8259). Everything that breaks the specification's rules becomes a
/// finding (`profile-malformed`) with the path `name`; a key of the wrong type counts as not there.
/// Nothing when the text is no JSON object at all.
std::optional<Profile> parse_profile(std::string_view json, const std::string& name,
                                     std::vector<Finding>& findings);

/// Judges a bag by a profile: each demand that is not met is a finding `profile-mismatch`. When
/// version or serialisation do not fit, the rest cannot be judged and is not (BP §2).
/// `archive`: the media type of the archive that the bag came in; empty for a folder.
void judge_by_profile(const Profile& profile, const Bag& bag, std::string_view archive,
                      const std::function<void(Finding)>& report);

/// Whether a path matches a pattern of a profile: `*` stands for any number of characters, `/`
/// among them; everything else for itself.
bool matches_pattern(std::string_view path, std::string_view pattern);

/// The identifier of the studio profile that Glassine's own bags follow
/// (docs/studio-profile.json).
inline constexpr std::string_view studio_profile = "urn:x-glassine:profile:photo-job:1.0";
/// The label that names a bag's profile (BP §B-1).
inline constexpr std::string_view profile_label = "BagIt-Profile-Identifier";

}  // namespace glassine::bagit

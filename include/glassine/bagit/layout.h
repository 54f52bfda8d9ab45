#pragma once

#include "glassine/digest/digest.h"

#include <optional>
#include <string>
#include <string_view>

/// The names that the standard gives to files of a bag.
namespace glassine::bagit {

inline constexpr std::string_view declaration_file = "bagit.txt";
inline constexpr std::string_view bag_info_file = "bag-info.txt";
inline constexpr std::string_view package_info_file = "package-info.txt";  ///< up to 0.95
inline constexpr std::string_view fetch_file = "fetch.txt";
inline constexpr std::string_view payload_directory = "data";

enum class ManifestKind { payload, tag };

/// What the name of a manifest says (8493 §2.1.3-3, §2.2.1-5).
struct ManifestName {
    ManifestKind kind;
    std::string algorithm;                        ///< normalised as §2.4-3 says: "sha512"
    std::optional<digest::Algorithm> computable;  ///< nothing when Glassine does not compute it
    bool canonical;                               ///< the name is written in its normalised form
};

/// "manifest-sha512.txt", "tagmanifest-md5.txt", also with an algorithm that is not normalised
/// ("manifest-SHA-512.txt"); nothing for other names.
std::optional<ManifestName> manifest_name(std::string_view file_name);
std::string manifest_file(ManifestKind kind, digest::Algorithm algorithm);

}  // namespace glassine::bagit

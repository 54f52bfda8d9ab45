#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

/// Paths as manifests and fetch lists write them.
namespace glassine::bagit {

/// LF, CR and `%` become %0A, %0D and %25, nothing else changes (8493 §2.1.3-10).
std::string encode_path(std::string_view path);

/// The reverse, for BagIt 1.0. Hex digits of either case; any other use of `%` is taken literally
/// and reported through `stray`, for it breaks §2.1.3-10.
std::string decode_path(std::string_view written, bool* stray = nullptr);

/// Why a path must not be used, or nothing when it is harmless: "it is absolute", … Tested before
/// any file is looked for: empty; NUL; leading `/`, `\` or `~`; a drive letter; a part `..`, also
/// between backslashes (8493 §5.1).
std::optional<std::string_view> unsafe_path(std::string_view path);

/// The path without `.` parts and doubled slashes: "./data//a" is "data/a". What was in need of it
/// is not canonical.
std::string canonical_path(std::string_view path);
bool is_canonical_path(std::string_view path);

/// True for paths that begin "data/".
bool in_payload(std::string_view path);

/// Why a name cannot be kept on every system that shelf drives carry (§6.1: forbidden characters,
/// device names, trailing dot or blank, control characters, more than 255 units); nothing when it
/// can. `part` is one part of a path.
std::optional<std::string> not_portable(std::string_view part);
/// The length of a path as Windows counts it, in UTF-16 units; it takes at most 255 (§6.1).
std::size_t path_units(std::string_view path);

}  // namespace glassine::bagit

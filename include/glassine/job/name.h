#pragma once

#include "glassine/base/time.h"

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace glassine::job {

/// Bytes of the longest name that `job_name` makes. File systems take 255 (ext4 bytes, NTFS, exFAT
/// and HFS+ units); this leaves room for the staging folder's name, an archive's extensions and
/// Windows' 260 characters for a whole path.
inline constexpr std::size_t longest_name = 100;

/// The name of a job and of its bag: `2025-09-06_okafor-lindqvist_sailing-gala`.
///
/// Date first, so that names sort by time (photographers' common practice); letters folded to
/// portable ASCII; several clients joined by a hyphen in the order given. Clients and description
/// that would make the name longer than `longest_name` are cut at a hyphen: bag-info.txt has them
/// in full.
///
/// Throws Error `usage` when there is no client, or a client or the description has no letter
/// or digit that can be written, naming which.
std::string job_name(Date date, std::span<const std::string> clients, std::string_view description);

/// A name read back. The clients cannot be told apart again: they stay joined.
struct NameParts {
    Date date;
    std::string clients;      ///< "okafor-lindqvist"
    std::string description;  ///< "sailing-gala"
    bool operator==(const NameParts&) const = default;
};

/// Nothing if it is not a name as `job_name` makes it.
std::optional<NameParts> parse_job_name(std::string_view name);

}  // namespace glassine::job

#pragma once

#include <cstdint>
#include <string_view>

namespace glassine::bagit {

/// SipHash-1-3 (Aumasson and Bernstein, 2012) under a key drawn once for the process: names chosen
/// by a stranger cannot be made to fall together in a table.
std::uint64_t keyed_hash(std::string_view text);

}  // namespace glassine::bagit

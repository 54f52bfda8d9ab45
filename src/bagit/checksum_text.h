#pragma once

#include <cstddef>
#include <span>
#include <string_view>
#include <vector>

/// Checksums as manifests write them.
namespace glassine::bagit {

/// Reads exactly `2 × into.size()` hex digits of either case; false when it is anything else.
bool read_hex(std::string_view text, std::span<std::byte> into);
/// An even number of hex digits, at least two.
bool is_hex(std::string_view text);
/// Reads RFC 4648 base64 of exactly `into.size()` bytes, with or without its padding (BagIt 0.93).
bool read_base64(std::string_view text, std::span<std::byte> into);

}  // namespace glassine::bagit

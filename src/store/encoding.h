#pragma once

#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace glassine::store {

/// Percent-encodes as Signature Version 4 has it: all bytes but A-Z a-z 0-9 - . _ ~ (RFC 3986
/// §2.3), hex in capitals; `/` stays when `keep_slash`.
std::string percent_encode(std::string_view text, bool keep_slash);
/// Turns `%41` and `+` back, as stores encode keys in listings; what is no escape stays.
std::string percent_decode(std::string_view text);
/// "a=1&b=" of parameters, encoded and in order.
std::string query_of(std::vector<std::pair<std::string, std::string>> parameters);

std::string base64(std::span<const std::byte> bytes);

}  // namespace glassine::store

#pragma once

#include <charconv>
#include <cstdint>
#include <optional>
#include <string_view>
#include <system_error>

/// ASCII as the standard's grammar uses it, whatever the locale.
namespace glassine::bagit {

constexpr bool is_blank(char c) {
    return c == ' ' || c == '\t';
}

constexpr bool is_letter(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

/// The whole text as a decimal number; empty when it is none, or too large.
inline std::optional<std::uint64_t> number(std::string_view text) {
    std::uint64_t value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
    return value;
}

}  // namespace glassine::bagit

#include "checksum_text.h"

#include <algorithm>
#include <array>
#include <cstdint>

namespace glassine::bagit {
namespace {

constexpr std::uint8_t no_digit = 0xFF;

constexpr std::array<std::uint8_t, 256> table_of(std::string_view digits, bool both_cases) {
    std::array<std::uint8_t, 256> table{};
    table.fill(no_digit);
    for (std::size_t i = 0; i < digits.size(); ++i) {
        const auto c = static_cast<unsigned char>(digits[i]);
        table[c] = static_cast<std::uint8_t>(i);
        if (both_cases && c >= 'a') table[c - 'a' + 'A'] = static_cast<std::uint8_t>(i);
    }
    return table;
}

constexpr auto hex_digits = table_of("0123456789abcdef", true);
constexpr auto base64_digits =
    table_of("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/", false);

std::uint8_t digit(const std::array<std::uint8_t, 256>& table, char c) {
    return table[static_cast<unsigned char>(c)];
}

}  // namespace

bool read_hex(std::string_view text, std::span<std::byte> into) {
    if (text.size() != into.size() * 2) return false;
    // A value that is no digit has its upper bits set; they are looked at once, at the end.
    unsigned wrong = 0;
    for (std::size_t i = 0; i < into.size(); ++i) {
        const unsigned high = digit(hex_digits, text[2 * i]);
        const unsigned low = digit(hex_digits, text[2 * i + 1]);
        wrong |= high | low;
        into[i] = static_cast<std::byte>((high << 4 | low) & 0xFF);
    }
    return wrong < 16;
}

bool is_hex(std::string_view text) {
    return !text.empty() && text.size() % 2 == 0 &&
           std::ranges::all_of(text, [](char c) { return digit(hex_digits, c) != no_digit; });
}

bool read_base64(std::string_view text, std::span<std::byte> into) {
    while (text.ends_with('='))
        text.remove_suffix(1);
    if (text.size() != (into.size() * 8 + 5) / 6) return false;
    unsigned bits = 0;
    unsigned held = 0;
    std::size_t at = 0;
    for (const char c : text) {
        const std::uint8_t value = digit(base64_digits, c);
        if (value == no_digit) return false;
        bits = bits << 6 | value;
        held += 6;
        if (held < 8) continue;
        held -= 8;
        if (at < into.size()) into[at++] = static_cast<std::byte>(bits >> held & 0xFF);
    }
    return at == into.size();
}

}  // namespace glassine::bagit

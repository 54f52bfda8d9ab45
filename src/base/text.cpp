#include "glassine/base/text.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <utility>

#include <fmt/format.h>

namespace glassine::text {
namespace {

/// What a lead byte asks for: the bytes of the sequence, and the range of the second one
/// (Unicode 15.0, table 3-7).
struct Shape {
    std::size_t length = 0;
    unsigned char low = 0x80;
    unsigned char high = 0xBF;
};

Shape shape_of(unsigned char lead) {
    if (lead < 0x80) return {1};
    if (lead < 0xC2 || lead > 0xF4) return {};
    if (lead < 0xE0) return {2};
    if (lead < 0xF0) {
        if (lead == 0xE0) return {3, 0xA0};
        return lead == 0xED ? Shape{3, 0x80, 0x9F} : Shape{3};
    }
    if (lead == 0xF0) return {4, 0x90};
    return lead == 0xF4 ? Shape{4, 0x80, 0x8F} : Shape{4};
}

struct Piece {
    std::size_t length;  ///< at least 1
    bool well_formed;
};

/// The character at the start of `s`, or the bytes that fail to be one: as many as one U+FFFD
/// stands for (Unicode 15.0 §3.9, "substitution of maximal subparts").
Piece first_piece(std::string_view s) {
    const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(s[i]); };
    const Shape shape = shape_of(byte(0));
    std::size_t length = 1;
    if (shape.length > 1 && s.size() > 1 && byte(1) >= shape.low && byte(1) <= shape.high)
        for (length = 2; length < shape.length && length < s.size(); ++length)
            if ((byte(length) & 0xC0) != 0x80) break;
    return {length, length == shape.length};
}

char32_t decode(std::string_view s) {
    const auto byte = [&](std::size_t i) {
        return static_cast<char32_t>(static_cast<unsigned char>(s[i]));
    };
    switch (s.size()) {
        case 1:
            return byte(0);
        case 2:
            return (byte(0) & 0x1F) << 6 | (byte(1) & 0x3F);
        case 3:
            return (byte(0) & 0x0F) << 12 | (byte(1) & 0x3F) << 6 | (byte(2) & 0x3F);
        default:
            return (byte(0) & 0x07) << 18 | (byte(1) & 0x3F) << 12 | (byte(2) & 0x3F) << 6 |
                   (byte(3) & 0x3F);
    }
}

/// Characters that move the cursor, change the direction of text or cannot be seen, and those that
/// are none and that XML does not allow. Variation selectors stay: pictographs need them.
bool hides(char32_t c) {
    return c < 0x20 || (c >= 0x7F && c <= 0x9F) || c == 0xAD || c == 0x34F || c == 0x61C ||
           c == 0x115F || c == 0x1160 || c == 0x180E || (c >= 0x200B && c <= 0x200F) ||
           (c >= 0x2028 && c <= 0x202E) || (c >= 0x2060 && c <= 0x206F) || c == 0x3164 ||
           c == 0xFEFF || c == 0xFFA0 || (c >= 0xFFF9 && c <= 0xFFFB) || (c & 0xFFFE) == 0xFFFE ||
           (c >= 0xE0000 && c <= 0xE007F);
}

std::string escape_of(char32_t c) {
    switch (c) {
        case '\n':
            return "\\n";
        case '\r':
            return "\\r";
        case '\t':
            return "\\t";
        default:
            break;
    }
    const auto number = static_cast<unsigned>(c);
    if (c < 0x100) return fmt::format("\\x{:02x}", number);
    return c < 0x10000 ? fmt::format("\\u{:04x}", number) : fmt::format("\\U{:08x}", number);
}

/// Calls `good(piece, code point)` for every character and `bad(piece)` for bytes that are none.
template <typename Good, typename Bad>
void each_character(std::string_view bytes, Good good, Bad bad) {
    while (!bytes.empty()) {
        const Piece first = first_piece(bytes);
        const std::string_view piece = bytes.substr(0, first.length);
        if (first.well_formed)
            good(piece, decode(piece));
        else
            bad(piece);
        bytes.remove_prefix(first.length);
    }
}

constexpr std::string_view replacement = "\xEF\xBF\xBD";

}  // namespace

bool is_utf8(std::string_view bytes) {
    while (!bytes.empty()) {
        const Piece first = first_piece(bytes);
        if (!first.well_formed) return false;
        bytes.remove_prefix(first.length);
    }
    return true;
}

std::string to_utf8(std::string_view bytes) {
    std::string out;
    out.reserve(bytes.size());
    each_character(
        bytes, [&](std::string_view piece, char32_t) { out += piece; },
        [&](std::string_view) { out += replacement; });
    return out;
}

std::string for_terminal(std::string_view bytes) {
    std::string out;
    out.reserve(bytes.size());
    each_character(
        bytes,
        [&](std::string_view piece, char32_t c) { hides(c) ? out += escape_of(c) : out += piece; },
        [&](std::string_view piece) {
            for (const char b : piece)
                out += fmt::format("\\x{:02x}", static_cast<unsigned char>(b));
        });
    return out;
}

std::string for_html(std::string_view bytes) {
    std::string out;
    out.reserve(bytes.size());
    const auto good = [&](std::string_view piece, char32_t c) {
        switch (c) {
            case '&':
                out += "&amp;";
                break;
            case '<':
                out += "&lt;";
                break;
            case '>':
                out += "&gt;";
                break;
            case '"':
                out += "&quot;";
                break;
            case '\'':
                out += "&#39;";
                break;
            case '\t':
            case '\n':
                out += piece;
                break;
            default:
                hides(c) ? out += replacement : out += piece;
        }
    };
    each_character(bytes, good, [&](std::string_view) { out += replacement; });
    return out;
}

std::string for_csv(std::string_view bytes) {
    std::string field = to_utf8(bytes);
    // RFC 4180 §2 knows no control characters but the line break (and TAB passes everywhere).
    for (char& c : field)
        if ((c >= 0 && c < 0x20 && c != '\t' && c != '\r' && c != '\n') || c == 0x7F) c = '?';
    constexpr std::string_view formula = "=+-@\t\r\n";
    if (!field.empty() && formula.find(field[0]) != std::string_view::npos)
        field.insert(0, 1, '\'');
    if (field.find_first_of(",\"\r\n") == std::string::npos) return field;
    std::string out = "\"";
    for (const char c : field) {
        if (c == '"') out += '"';
        out += c;
    }
    return out + '"';
}

std::string for_shell(std::string_view bytes) {
    constexpr std::string_view plain =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_-./:,+@%";
    std::string word = bytes.starts_with('-') ? "./" : "";
    word += bytes;
    if (!word.empty() && word.find_first_not_of(plain) == std::string::npos) return word;
    const auto is_control = [](char c) { return (c >= 0 && c < 0x20) || c == 0x7F; };
    const bool escaped = std::ranges::any_of(word, is_control);
    std::string out = escaped ? "$'" : "'";
    for (const char c : word) {
        if (is_control(c)) {
            out += fmt::format("\\x{:02x}", static_cast<unsigned>(c));
        } else if (c == '\'') {
            out += escaped ? "\\'" : "'\\''";
        } else {
            if (escaped && c == '\\') out += '\\';
            out += c;
        }
    }
    return out + "'";
}

bool is_ascii(std::string_view bytes) {
    return std::ranges::all_of(bytes, [](char c) { return static_cast<unsigned char>(c) < 0x80; });
}

std::string ascii_lower(std::string_view bytes) {
    std::string out(bytes);
    for (char& c : out)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    return out;
}

bool equal_ignoring_ascii_case(std::string_view a, std::string_view b) {
    return a.size() == b.size() && ascii_lower(a) == ascii_lower(b);
}

std::string_view trim(std::string_view bytes) {
    const std::size_t from = bytes.find_first_not_of(" \t");
    if (from == std::string_view::npos) return {};
    return bytes.substr(from, bytes.find_last_not_of(" \t") - from + 1);
}

std::string human_bytes(std::uint64_t bytes) {
    constexpr std::array<std::string_view, 5> units{"kB", "MB", "GB", "TB", "PB"};
    if (bytes < 1000) return counted(bytes, "byte");
    double value = static_cast<double>(bytes) / 1000;
    std::size_t unit = 0;
    // What would be rounded to 1000 belongs to the next unit; kB are shown without a decimal.
    while (value >= (unit == 0 ? 999.5 : 999.95) && unit + 1 < units.size()) {
        value /= 1000;
        ++unit;
    }
    return unit == 0 ? fmt::format("{:.0f} kB", value)
                     : fmt::format("{:.1f} {}", value, units[unit]);
}

std::optional<std::uint64_t> parse_bytes(std::string_view text) {
    struct Unit {
        std::string_view word;
        double bytes;
    };
    constexpr std::array units{Unit{"", 1},          Unit{"b", 1},         Unit{"kb", 1e3},
                               Unit{"mb", 1e6},      Unit{"gb", 1e9},      Unit{"tb", 1e12},
                               Unit{"kib", 1 << 10}, Unit{"mib", 1 << 20}, Unit{"gib", 1 << 30}};
    constexpr double most = 1e18;
    double number = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
    const std::string unit = ascii_lower(trim(std::string_view(end, text.data() + text.size())));
    const auto at = std::ranges::find(units, unit, &Unit::word);
    if (error != std::errc() || at == units.end() || !(number * at->bytes >= 1) ||
        number * at->bytes > most)
        return std::nullopt;
    return static_cast<std::uint64_t>(number * at->bytes);
}

std::string grouped(std::uint64_t number) {
    std::string digits = std::to_string(number);
    for (std::size_t at = digits.size(); at > 3; at -= 3)
        digits.insert(at - 3, 1, ',');
    return digits;
}

std::string counted(std::uint64_t n, std::string_view singular, std::string_view plural) {
    if (n == 1) return fmt::format("1 {}", singular);
    return plural.empty() ? fmt::format("{} {}s", grouped(n), singular)
                          : fmt::format("{} {}", grouped(n), plural);
}

std::string human_duration(double seconds) {
    constexpr double longest = 1e15;  // an estimate may have divided by nothing
    const double bounded = seconds > 0 ? std::min(seconds, longest) : 0;
    const auto whole = static_cast<std::uint64_t>(std::llround(bounded));
    if (whole < 60) return fmt::format("{} s", whole);
    if (whole < 3600) return fmt::format("{} min {:02} s", whole / 60, whole % 60);
    return fmt::format("{} h {:02} min", whole / 3600, whole % 3600 / 60);
}

std::string hex(std::span<const std::byte> bytes) {
    constexpr std::string_view digits = "0123456789abcdef";
    std::string out;
    out.reserve(bytes.size() * 2);
    for (const std::byte b : bytes) {
        out += digits[std::to_integer<unsigned>(b) >> 4];
        out += digits[std::to_integer<unsigned>(b) & 15];
    }
    return out;
}

bool from_hex(std::string_view hex, std::vector<std::byte>& bytes) {
    const auto nibble = [](char c) {
        if (c >= '0' && c <= '9') return c - '0';
        if (c >= 'a' && c <= 'f') return c - 'a' + 10;
        if (c >= 'A' && c <= 'F') return c - 'A' + 10;
        return -1;
    };
    if (hex.size() % 2 != 0) return false;
    bytes.clear();
    bytes.reserve(hex.size() / 2);
    for (std::size_t i = 0; i < hex.size(); i += 2) {
        const int high = nibble(hex[i]);
        const int low = nibble(hex[i + 1]);
        if (high < 0 || low < 0) return false;
        bytes.push_back(static_cast<std::byte>(high * 16 + low));
    }
    return true;
}

}  // namespace glassine::text

#include "photo/icc.h"

#include "glassine/base/text.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace glassine::photo {

namespace {

// ICC.1 §7.2 (header), §7.3 (tag table), §10 (types); from memory.
constexpr std::uint64_t header_size = 128;
constexpr std::uint64_t most_tags = 200;
constexpr std::size_t longest_name = 200;

struct Tag {
    std::uint64_t offset;
    std::uint64_t size;
};

std::optional<Tag> find_tag(const ByteReader& profile, std::string_view signature) {
    const auto count = profile.number(header_size, 4).value_or(0);
    for (std::uint64_t i = 0; i < std::min(count, most_tags); ++i) {
        const std::uint64_t at = header_size + 4 + i * 12;
        if (!profile.text_at(at, signature)) continue;
        const auto offset = profile.number(at + 4, 4);
        const auto size = profile.number(at + 8, 4);
        if (offset && size && inside(profile.size(), *offset, *size)) return Tag{*offset, *size};
    }
    return std::nullopt;
}

void append_utf8(std::string& out, std::uint32_t c) {
    if (c < 0x80) {
        out += static_cast<char>(c);
    } else if (c < 0x800) {
        out += static_cast<char>(0xC0 | c >> 6);
        out += static_cast<char>(0x80 | (c & 0x3F));
    } else {
        out += static_cast<char>(0xE0 | c >> 12);
        out += static_cast<char>(0x80 | (c >> 6 & 0x3F));
        out += static_cast<char>(0x80 | (c & 0x3F));
    }
}

/// The first record of a multiLocalizedUnicodeType (UTF-16, big endian).
std::string first_localised(const ByteReader& profile, const Tag& tag) {
    const auto length = profile.number(tag.offset + 20, 4).value_or(0);
    const auto offset = profile.number(tag.offset + 24, 4).value_or(0);
    std::string out;
    if (!inside(tag.size, offset, length)) return out;
    for (std::uint64_t i = 0; i + 1 < length && out.size() < longest_name; i += 2)
        if (const auto unit = profile.number(tag.offset + offset + i, 2); unit && *unit != 0)
            append_utf8(out, static_cast<std::uint32_t>(*unit));
    return text::to_utf8(out);
}

std::string description(const ByteReader& profile) {
    const auto tag = find_tag(profile, "desc");
    if (!tag) return {};
    if (profile.text_at(tag->offset, "mluc")) return first_localised(profile, *tag);
    const auto length = profile.number(tag->offset + 8, 4).value_or(0);
    const auto text =
        profile.range(tag->offset + 12, std::min<std::uint64_t>(length, longest_name));
    if (!text || !profile.text_at(tag->offset, "desc")) return {};
    const std::string_view all = as_text(*text);
    return text::to_utf8(all.substr(0, all.find('\0')));
}

using Primaries = std::array<double, 9>;

// Red, green, blue as X, Y, Z relative to D50, as the profiles of IEC 61966-2-1 and Adobe RGB
// (1998) hold them.
constexpr Primaries srgb{0.4361, 0.2225, 0.0139, 0.3851, 0.7169, 0.0971, 0.1431, 0.0606, 0.7141};
constexpr Primaries adobe{0.6097, 0.3111, 0.0195, 0.2053, 0.6257, 0.0609, 0.1492, 0.0632, 0.7446};

std::optional<Primaries> primaries(const ByteReader& profile) {
    Primaries out{};
    constexpr std::array<std::string_view, 3> names{"rXYZ", "gXYZ", "bXYZ"};
    for (std::size_t i = 0; i < names.size(); ++i) {
        const auto tag = find_tag(profile, names[i]);
        if (!tag) return std::nullopt;
        for (std::size_t k = 0; k < 3; ++k) {
            const auto fixed = profile.number(tag->offset + 8 + k * 4, 4);
            if (!fixed) return std::nullopt;
            out[i * 3 + k] = static_cast<std::int32_t>(*fixed) / 65536.0;  // s15Fixed16Number
        }
    }
    return out;
}

bool near(const Primaries& a, const Primaries& b) {
    for (std::size_t i = 0; i < a.size(); ++i)
        if (std::abs(a[i] - b[i]) > 0.004) return false;
    return true;
}

ColorSpace judge(const ByteReader& profile, const std::string& name) {
    const std::string lower = text::ascii_lower(name);
    const auto has = [&](std::string_view word) { return lower.find(word) != std::string::npos; };
    if (!profile.text_at(16, "RGB ") || has("linear")) return ColorSpace::other;
    if (const auto found = primaries(profile)) {
        if (near(*found, srgb)) return ColorSpace::srgb;
        if (near(*found, adobe)) return ColorSpace::adobe_rgb;
        return ColorSpace::other;
    }
    if (has("srgb")) return ColorSpace::srgb;
    if (has("adobe rgb")) return ColorSpace::adobe_rgb;
    return ColorSpace::other;
}

}  // namespace

IccProfile read_icc(Bytes profile) {
    const ByteReader reader(profile, true);
    IccProfile out;
    out.valid = reader.number(0, 4) == profile.size() && reader.text_at(36, "acsp");
    if (!out.valid) return out;
    out.name = description(reader);
    out.color_space = judge(reader, out.name);
    return out;
}

}  // namespace glassine::photo

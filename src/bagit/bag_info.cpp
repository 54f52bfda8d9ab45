#include "glassine/bagit/bag_info.h"

#include "characters.h"
#include "glassine/base/error.h"
#include "glassine/base/text.h"

#include <algorithm>
#include <charconv>

#include <fmt/format.h>

/// The model of bag-info.txt, and writing it.
namespace glassine::bagit {
namespace {

constexpr std::size_t widest = 79;  ///< characters in a line, §2.2.2-5

std::size_t characters(std::string_view utf8) {
    return static_cast<std::size_t>(std::ranges::count_if(
        utf8, [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
}

/// A blank between two words: breaking there and reading the break as one blank changes nothing.
bool breakable(std::string_view text, std::size_t at) {
    return text[at] == ' ' && at > 0 && at + 1 < text.size() && !is_blank(text[at - 1]) &&
           !is_blank(text[at + 1]);
}

/// Where to fold so that the line is no wider than it should be, or as little wider as can be;
/// nothing when it fits or cannot be folded. `used`: characters that stand on the line already.
std::optional<std::size_t> fold_at(std::string_view value, std::size_t used) {
    std::optional<std::size_t> best;
    std::size_t count = used;
    for (std::size_t i = 0; i < value.size(); ++i) {
        if (breakable(value, i) && (count <= widest || !best)) best = i;
        if ((static_cast<unsigned char>(value[i]) & 0xC0) != 0x80) ++count;
        if (count > widest && best) return best;
    }
    return std::nullopt;
}

/// Appends one line's worth of value, folded.
void append_folded(std::string& out, std::string_view value, std::size_t used) {
    while (const auto at = fold_at(value, used)) {
        out.append(value.substr(0, *at)).append("\n ");
        value.remove_prefix(*at + 1);
        used = 1;
    }
    out.append(value);
}

void check_label(const Element& element) {
    const std::string& label = element.label;
    if (label.empty() || is_blank(label.front()) || is_blank(label.back()) ||
        label.find_first_of(":\r\n") != std::string::npos)
        throw Error(Cause::malformed, "write the metadata", "bag-info.txt",
                    fmt::format("“{}” cannot be a label", label),
                    "a label has no colon and no line break, and no blank at its ends");
}

/// CR and CRLF as LF.
std::string plain_breaks(std::string_view value) {
    std::string out;
    for (std::size_t i = 0; i < value.size(); ++i) {
        if (value[i] == '\r' && i + 1 < value.size() && value[i + 1] == '\n') continue;
        out += value[i] == '\r' ? '\n' : value[i];
    }
    return out;
}

}  // namespace

std::string unfolded(std::string_view value) {
    std::string out(value);
    std::ranges::replace(out, '\n', ' ');
    return out;
}

std::vector<std::string> BagInfo::values(std::string_view label) const {
    std::vector<std::string> out;
    for (const Element& element : elements_)
        if (text::equal_ignoring_ascii_case(element.label, label))
            out.push_back(unfolded(element.value));
    return out;
}

std::optional<std::string> BagInfo::value(std::string_view label) const {
    for (const Element& element : elements_)
        if (text::equal_ignoring_ascii_case(element.label, label)) return unfolded(element.value);
    return std::nullopt;
}

std::optional<Oxum> parse_oxum(std::string_view value) {
    value = text::trim(value);
    const std::size_t dot = value.find('.');
    if (dot == std::string_view::npos) return std::nullopt;
    const auto bytes = number(value.substr(0, dot));
    const auto files = number(value.substr(dot + 1));
    if (!bytes || !files) return std::nullopt;
    return Oxum{*bytes, *files};
}

std::string oxum_text(Oxum oxum) {
    return fmt::format("{}.{}", oxum.bytes, oxum.files);
}

std::string bag_size_text(std::uint64_t bytes) {
    struct Unit {
        std::uint64_t size;
        const char* name;
    };
    constexpr Unit units[] = {{1'000'000'000'000, "TB"}, {1'000'000'000, "GB"}, {1'000'000, "MB"}};
    for (const Unit& unit : units) {
        if (bytes < unit.size && unit.size > 1'000'000) continue;
        const std::uint64_t step = unit.size / 10;
        const std::uint64_t tenths =
            std::max<std::uint64_t>(bytes / step + (bytes % step * 2 >= step), bytes > 0 ? 1 : 0);
        return fmt::format("{}.{} {}", tenths / 10, tenths % 10, unit.name);
    }
    return {};
}

std::string bag_info_text(std::span<const Element> elements) {
    std::string out;
    for (const Element& element : elements) {
        check_label(element);
        out += element.label + ": ";
        const std::string value = plain_breaks(element.value);
        std::size_t used = characters(element.label) + 2;
        for (std::size_t begin = 0; begin <= value.size();) {
            const std::size_t end = std::min(value.find('\n', begin), value.size());
            if (begin > 0) out += "\n ";
            append_folded(out, std::string_view(value).substr(begin, end - begin),
                          begin > 0 ? 1 : used);
            begin = end + 1;
        }
        out += '\n';
    }
    return out;
}

}  // namespace glassine::bagit

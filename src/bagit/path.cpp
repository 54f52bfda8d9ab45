#include "glassine/bagit/path.h"

#include "characters.h"
#include "glassine/base/text.h"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace glassine::bagit {
namespace {

/// LF, CR or % for the three escapes of §2.1.3-10; NUL for any other.
char escaped(std::string_view written, std::size_t at) {
    if (at + 2 >= written.size()) return '\0';
    const char high = written[at + 1];
    const char low = written[at + 2];
    if (high == '0' && (low == 'a' || low == 'A')) return '\n';
    if (high == '0' && (low == 'd' || low == 'D')) return '\r';
    if (high == '2' && low == '5') return '%';
    return '\0';
}

/// The length in units of UTF-16, as Windows counts; of bytes where the name is no UTF-8.
std::size_t units(std::string_view name) {
    if (!text::is_utf8(name)) return name.size();
    std::size_t count = 0;
    for (const char c : name) {
        const auto byte = static_cast<unsigned char>(c);
        if ((byte & 0xC0) != 0x80) count += byte >= 0xF0 ? 2 : 1;
    }
    return count;
}

/// CON, PRN, AUX, NUL, COM1 to COM9, LPT1 to LPT9, with or without an extension.
bool is_device_name(std::string_view part) {
    const std::string stem = text::ascii_lower(part.substr(0, part.find('.')));
    constexpr std::array devices{"con", "prn", "aux", "nul"};
    if (std::ranges::find(devices, stem) != devices.end()) return true;
    return stem.size() == 4 && (stem.starts_with("com") || stem.starts_with("lpt")) &&
           stem[3] >= '1' && stem[3] <= '9';
}

}  // namespace

std::string encode_path(std::string_view path) {
    std::string out;
    out.reserve(path.size());
    for (const char c : path) {
        if (c == '\n')
            out += "%0A";
        else if (c == '\r')
            out += "%0D";
        else if (c == '%')
            out += "%25";
        else
            out += c;
    }
    return out;
}

std::string decode_path(std::string_view written, bool* stray) {
    if (stray) *stray = false;
    std::string out;
    out.reserve(written.size());
    for (std::size_t i = 0; i < written.size(); ++i) {
        const char meant = written[i] == '%' ? escaped(written, i) : '\0';
        if (meant != '\0') {
            out += meant;
            i += 2;
            continue;
        }
        if (written[i] == '%' && stray) *stray = true;
        out += written[i];
    }
    return out;
}

std::optional<std::string_view> unsafe_path(std::string_view path) {
    if (path.empty()) return "it is empty";
    if (path[0] == '/') return "it is absolute";
    if (path[0] == '\\') return "it begins with a backslash, as shares and device paths do";
    if (path[0] == '~') return "it begins with ~, which a shell takes for a home folder";
    if (path.size() > 1 && path[1] == ':' && is_letter(path[0])) return "it names a drive";
    std::size_t begin = 0;
    for (std::size_t i = 0; i <= path.size(); ++i) {
        if (i < path.size() && path[i] == '\0') return "it holds a NUL byte";
        if (i < path.size() && path[i] != '/' && path[i] != '\\') continue;
        if (i - begin == 2 && path[begin] == '.' && path[begin + 1] == '.')
            return "it leads upwards with ..";
        begin = i + 1;
    }
    return std::nullopt;
}

bool is_canonical_path(std::string_view path) {
    std::size_t begin = 0;
    for (;;) {
        const std::size_t slash = std::min(path.find('/', begin), path.size());
        const std::size_t length = slash - begin;
        if ((length == 0 && slash < path.size()) || (length == 1 && path[begin] == '.'))
            return false;
        if (slash == path.size()) return true;
        begin = slash + 1;
    }
}

std::string canonical_path(std::string_view path) {
    std::string out;
    std::size_t begin = 0;
    while (begin <= path.size()) {
        const std::size_t slash = std::min(path.find('/', begin), path.size());
        const std::string_view part = path.substr(begin, slash - begin);
        const bool last = slash == path.size();
        if (part != "." && (!part.empty() || last)) {
            out += part;
            if (!last) out += '/';
        }
        begin = slash + 1;
    }
    return out;
}

bool in_payload(std::string_view path) {
    return path.starts_with("data/");
}

std::optional<std::string> not_portable(std::string_view part) {
    for (const char c : part) {
        const auto byte = static_cast<unsigned char>(c);
        if (byte < 0x20 || byte == 0x7F) return "it holds a control character";
        if (std::string_view("<>:\"\\|?*").find(c) != std::string_view::npos)
            return fmt::format("it holds the character {}", c);
    }
    if (part.ends_with('.') || part.ends_with(' ')) return "it ends in a dot or a blank";
    if (is_device_name(part)) return "Windows keeps this name for a device";
    if (!text::is_utf8(part)) return "it is not UTF-8";
    if (part.size() > 255 && units(part) > 255) return "it is longer than 255 characters";
    return std::nullopt;
}

std::size_t path_units(std::string_view path) {
    return units(path);
}

}  // namespace glassine::bagit

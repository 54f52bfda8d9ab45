#include "glassine/base/text.h"
#include "glassine/job/layout.h"

#include <algorithm>
#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace glassine::job {
namespace {

using namespace std::literals;

/// NTFS, exFAT (Microsoft's naming rules): names of devices, with any extension, also with
/// superscript digits.
constexpr std::array devices{"con"sv, "prn"sv, "aux"sv, "nul"sv, "conin$"sv, "conout$"sv};
constexpr std::array device_digits{"1"sv, "2"sv, "3"sv, "4"sv,      "5"sv,      "6"sv,
                                   "7"sv, "8"sv, "9"sv, "\u00b9"sv, "\u00b2"sv, "\u00b3"sv};

bool is_device(std::string_view name) {
    std::string stem = text::ascii_lower(name.substr(0, name.find('.')));
    while (stem.ends_with(' '))
        stem.pop_back();
    if (std::ranges::find(devices, stem) != devices.end()) return true;
    const bool port = stem.starts_with("com") || stem.starts_with("lpt");
    return port && std::ranges::find(device_digits, stem.substr(3)) != device_digits.end();
}

/// UTF-16 code units of well-formed UTF-8: NTFS, exFAT and HFS+ count names in them.
std::size_t utf16_units(std::string_view utf8) {
    std::size_t units = 0;
    for (const char c : utf8) {
        const auto byte = static_cast<std::uint8_t>(c);
        if ((byte & 0xC0) != 0x80) units += byte >= 0xF0 ? 2 : 1;
    }
    return units;
}

}  // namespace

std::optional<std::string> not_portable(std::string_view name) {
    if (!text::is_utf8(name)) return "is not UTF-8: APFS, exFAT and NTFS cannot hold it";
    for (const char c : name) {
        const auto byte = static_cast<std::uint8_t>(c);
        if (byte < 0x20 || byte == 0x7F)
            return "holds a control character: exFAT and NTFS cannot hold it, and manifests become "
                   "ambiguous";
        if ("\"*/:<>?\\|"sv.find(c) != std::string_view::npos)
            return "holds the character "s + c + " that exFAT and NTFS forbid";
    }
    if (name.find('%') != std::string_view::npos)
        return "holds a percent sign, which programs read differently in manifests";
    if (name.ends_with('.') || name.ends_with(' '))
        return "ends in a "s + (name.ends_with('.') ? "dot" : "blank") + ", which Windows drops";
    if (is_device(name)) return "is the name of a device on Windows";
    if (name.size() > 255 || utf16_units(name) > 255)
        return "is longer than 255 bytes, the most that ext4 can hold";
    return std::nullopt;
}

}  // namespace glassine::job

#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string_view>

namespace glassine::job {

/// The four parts of a delivered job.
enum class Section {
    originals,  ///< kept raws (or camera JPEGs) and their sidecars
    print,      ///< final pictures for print
    web,        ///< final pictures for the web
    rejects,    ///< frames that are not kept: raws, their JPEG proxies, or both
};

inline constexpr std::array all_sections{Section::originals, Section::print, Section::web,
                                         Section::rejects};

inline constexpr std::size_t index(Section section) {
    return static_cast<std::size_t>(section);
}

/// "originals", "print", "web", "rejects": as options, studio files and JSON name it.
std::string_view word(Section section);
std::optional<Section> section(std::string_view word);

/// Where the section stands in a bag: "data/originals", "data/print", "data/web",
/// "data/reject-proxies".
std::string_view payload_folder(Section section);

}  // namespace glassine::job

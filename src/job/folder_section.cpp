#include "glassine/base/text.h"
#include "glassine/job/folder_name.h"

#include <algorithm>

namespace glassine::job {
namespace {

/// What such folders are usually called (common practice, no source).
struct Known {
    Section section;
    std::string_view name;
};
constexpr std::array known{
    Known{Section::originals, "originals"}, Known{Section::originals, "original"},
    Known{Section::originals, "raw"},       Known{Section::originals, "raws"},
    Known{Section::originals, "raw files"}, Known{Section::originals, "negatives"},
    Known{Section::originals, "dng"},       Known{Section::print, "print"},
    Known{Section::print, "prints"},        Known{Section::print, "print files"},
    Known{Section::print, "for print"},     Known{Section::print, "high res"},
    Known{Section::print, "highres"},       Known{Section::print, "hi res"},
    Known{Section::print, "hires"},         Known{Section::print, "high resolution"},
    Known{Section::print, "full res"},      Known{Section::web, "web"},
    Known{Section::web, "web files"},       Known{Section::web, "for web"},
    Known{Section::web, "for the web"},     Known{Section::web, "web res"},
    Known{Section::web, "web gallery"},     Known{Section::web, "low res"},
    Known{Section::web, "lowres"},          Known{Section::web, "low resolution"},
    Known{Section::rejects, "rejects"},     Known{Section::rejects, "reject"},
    Known{Section::rejects, "rejected"},    Known{Section::rejects, "outtakes"},
    Known{Section::rejects, "culled"}};

/// "3 - Web_files" is "web files".
std::string plain(std::string_view name) {
    std::string folded = text::fold_for_search(name);
    std::size_t at = 0;
    while (at < folded.size() && ((folded[at] >= '0' && folded[at] <= '9') || folded[at] == ' '))
        ++at;
    return folded.substr(at);
}

}  // namespace

std::optional<Section> section_of_folder(std::string_view name, const AdoptRules& rules) {
    const std::string wanted = plain(name);
    if (wanted.empty()) return std::nullopt;
    std::optional<Section> own;
    for (const Section section : all_sections) {
        if (std::ranges::none_of(rules.sections[index(section)],
                                 [&](const std::string& given) { return plain(given) == wanted; }))
            continue;
        if (own) return std::nullopt;
        own = section;
    }
    if (own) return own;
    const auto at = std::ranges::find(known, wanted, &Known::name);
    if (at == known.end()) return std::nullopt;
    return at->section;
}

}  // namespace glassine::job

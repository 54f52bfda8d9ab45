#include "glassine/job/section.h"

#include <algorithm>

namespace glassine::job {
namespace {

struct Words {
    std::string_view word;
    std::string_view payload_folder;
};

// By `index(Section)`.
constexpr std::array<Words, 4> words{{{"originals", "data/originals"},
                                      {"print", "data/print"},
                                      {"web", "data/web"},
                                      {"rejects", "data/reject-proxies"}}};

}  // namespace

std::string_view word(Section section) {
    return words[index(section)].word;
}

std::string_view payload_folder(Section section) {
    return words[index(section)].payload_folder;
}

std::optional<Section> section(std::string_view name) {
    const auto* at =
        std::ranges::find_if(all_sections, [&](Section section) { return word(section) == name; });
    if (at == all_sections.end()) return std::nullopt;
    return *at;
}

}  // namespace glassine::job

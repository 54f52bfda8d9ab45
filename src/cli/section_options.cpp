#include "cli/section_options.h"

#include <CLI/CLI.hpp>

namespace glassine::cli {

void SectionOptions::declare(CLI::App& app) {
    constexpr std::array<const char*, 4> what{
        "The folder of the kept raws", "The folder of the print exports",
        "The folder of the web exports", "The folder of the rejected frames"};
    for (const job::Section s : job::all_sections)
        app.add_option("--" + std::string(job::word(s)), given_[job::index(s)], what[job::index(s)])
            ->option_text("DIR");
}

std::array<std::optional<io::Path>, 4> SectionOptions::folders() const {
    std::array<std::optional<io::Path>, 4> folders;
    for (std::size_t i = 0; i < given_.size(); ++i)
        if (!given_[i].empty()) folders[i] = given_[i];
    return folders;
}

}  // namespace glassine::cli

#include "glassine/bagit/archive.h"
#include "glassine/base/text.h"

#include <algorithm>
#include <array>

namespace glassine::bagit {
namespace {

constexpr std::array<std::string_view, 10> endings{
    ".tar", ".zip", ".tar.gz", ".tgz", ".tar.zst", ".tzst", ".tar.bz2", ".tbz2", ".tar.xz", ".txz",
};

std::size_t ending_length(std::string_view file_name) {
    const std::string lower = text::ascii_lower(file_name);
    std::size_t length = 0;
    for (const std::string_view ending : endings)
        if (lower.size() > ending.size() && lower.ends_with(ending))
            length = std::max(length, ending.size());
    return length;
}

}  // namespace

bool is_archive_name(std::string_view file_name) {
    return ending_length(file_name) > 0;
}

std::string archive_stem(std::string_view file_name) {
    return std::string(file_name.substr(0, file_name.size() - ending_length(file_name)));
}

}  // namespace glassine::bagit

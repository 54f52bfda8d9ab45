#include "glassine/bagit/archive.h"
#include "glassine/base/text.h"

#include <algorithm>
#include <array>

namespace glassine::bagit {
namespace {

struct Ending {
    std::string_view text;
    std::string_view media_type;
};
constexpr std::array<Ending, 10> endings{{
    {".tar", "application/x-tar"},
    {".zip", "application/zip"},
    {".tar.gz", "application/gzip"},
    {".tgz", "application/gzip"},
    {".tar.zst", "application/zstd"},
    {".tzst", "application/zstd"},
    {".tar.bz2", "application/x-bzip2"},
    {".tbz2", "application/x-bzip2"},
    {".tar.xz", "application/x-xz"},
    {".txz", "application/x-xz"},
}};

/// The longest that the name ends with; null if it has none, or nothing stands before it.
const Ending* ending_of_archive(std::string_view file_name) {
    const std::string lower = text::ascii_lower(file_name);
    const Ending* longest = nullptr;
    for (const Ending& ending : endings)
        if (lower.size() > ending.text.size() && lower.ends_with(ending.text) &&
            (longest == nullptr || longest->text.size() < ending.text.size()))
            longest = &ending;
    return longest;
}

}  // namespace

bool is_archive_name(std::string_view file_name) {
    return ending_of_archive(file_name) != nullptr;
}

std::string_view archive_media_type(std::string_view file_name) {
    const Ending* ending = ending_of_archive(file_name);
    return ending == nullptr ? "application/octet-stream" : ending->media_type;
}

std::string archive_stem(std::string_view file_name) {
    const Ending* ending = ending_of_archive(file_name);
    return std::string(
        file_name.substr(0, file_name.size() - (ending == nullptr ? 0 : ending->text.size())));
}

}  // namespace glassine::bagit

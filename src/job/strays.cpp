#include "glassine/base/text.h"
#include "glassine/job/layout.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <string>
#include <string_view>

/// Names that do not belong into an archive. The lists are common practice, no source;
/// docs/system-junk.md explains each entry and a test compares the two.
namespace glassine::job {
namespace {

using namespace std::literals;

constexpr std::array junk_files{
    ".ds_store"sv,   ".localized"sv,  ".volumeicon.icns"sv,
    ".apdisk"sv,     "icon\r"sv,      ".com.apple.timemachine.donotpresent"sv,
    "thumbs.db"sv,   "ehthumbs.db"sv, "ehthumbs_vista.db"sv,
    "desktop.ini"sv, ".directory"sv,
};

constexpr std::array junk_folders{
    ".appledouble"sv,    ".spotlight-v100"sv,           ".trashes"sv,   ".fseventsd"sv,
    ".temporaryitems"sv, ".documentrevisions-v100"sv,   "__macosx"sv,   "$recycle.bin"sv,
    "recycler"sv,        "system volume information"sv, "lost+found"sv, "@eadir"sv,
};

constexpr std::array junk_beginnings{".fuse_hidden"sv, ".nfs0"sv};
constexpr std::array junk_folder_beginnings{".trash-"sv};

constexpr std::array unfinished_endings{
    ".part"sv, ".partial"sv, ".crdownload"sv, ".download"sv, ".filepart"sv,
    ".!ut"sv,  ".tmp"sv,     ".temp"sv,       ".swp"sv,      ".aria2"sv,
};

constexpr std::array unfinished_beginnings{"~$"sv, ".~lock."sv, ".goutputstream-"sv};

bool one_of(std::string_view name, const auto& names) {
    return std::ranges::find(names, name) != std::end(names);
}

bool begins_with_one_of(std::string_view name, const auto& beginnings) {
    return std::ranges::any_of(beginnings, [&](std::string_view b) { return name.starts_with(b); });
}

/// ".IMG_0001.CR2.aB3dEf": the hidden name that block-wise copy programs write to before they
/// rename.
bool is_copy_in_progress(std::string_view name) {
    if (name.size() < 10 || name.front() != '.') return false;
    const std::size_t dot = name.rfind('.');
    const std::string_view random = name.substr(dot + 1);
    const std::string_view real = name.substr(1, dot > 0 ? dot - 1 : 0);
    const bool letters = std::ranges::all_of(
        random, [](char c) { return std::isalnum(static_cast<unsigned char>(c)) != 0; });
    return random.size() == 6 && letters && real.find('.') != std::string_view::npos;
}

}  // namespace

bool is_system_junk(std::string_view name, bool folder) {
    const std::string lower = text::ascii_lower(name);
    if (folder)
        return one_of(lower, junk_folders) || begins_with_one_of(lower, junk_folder_beginnings);
    return one_of(lower, junk_files) || begins_with_one_of(lower, junk_beginnings);
}

bool is_unfinished(std::string_view name) {
    const std::string lower = text::ascii_lower(name);
    if (begins_with_one_of(lower, unfinished_beginnings)) return true;
    const bool ending = std::ranges::any_of(unfinished_endings,
                                            [&](std::string_view e) { return lower.ends_with(e); });
    return ending || is_copy_in_progress(name);
}

}  // namespace glassine::job

#pragma once

#include "glassine/base/time.h"
#include "glassine/job/section.h"

#include <array>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// What the names of old job folders say, for folders that were never bags. Names are read only as
/// far as they have one reading; whatever has none, or two, is left to a person.
namespace glassine::job {

/// Which of day, month and year comes first where digits alone do not tell ("05-06-2014",
/// "140605").
enum class DateOrder { unknown, year_first, day_first, month_first };

/// The studio's own rules for old folders: the studio file's table `[adopt]`.
struct AdoptRules {
    /// Tried first, in their order: "{date} {clients} - {about}" with {date}, {clients}, {about},
    /// {job_number} and {any} (passed over); everything else is as it stands.
    std::vector<std::string> patterns;
    DateOrder date_order = DateOrder::unknown;
    /// Words that tell what a job was ("wedding"), beside those that are known.
    std::vector<std::string> occasions;
    /// By `index(Section)`: further names of folders.
    std::array<std::vector<std::string>, 4> sections;
    bool operator==(const AdoptRules&) const = default;
};

/// A folder's name, read.
struct FolderReading {
    Date date{};
    std::vector<std::string> clients;
    std::string about;
    std::string job_number;  ///< may be empty
    bool operator==(const FolderReading&) const = default;
};

struct FolderReadingResult {
    std::optional<FolderReading> reading;
    std::string why;  ///< why there is none: the end of a sentence ("it names no day")
};

/// `path`: the folder's path below the drive, `/` between parts; folders above it may give year and
/// month ("2014/06/21 Holt wedding").
FolderReadingResult read_folder_name(std::string_view path, const AdoptRules& rules);

/// The section that a subfolder's name stands for, numbered or not ("01_RAW", "3 - Web files");
/// nothing when it is none of the known names, or more than one.
std::optional<Section> section_of_folder(std::string_view name, const AdoptRules& rules);

}  // namespace glassine::job

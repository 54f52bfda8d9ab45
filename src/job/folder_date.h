#pragma once

#include "glassine/job/folder_name.h"

#include <optional>
#include <string_view>
#include <vector>

namespace glassine::job {

/// A date as it stands in a folder's name.
struct WrittenDate {
    std::size_t at = 0;  ///< of its first byte
    std::size_t length = 0;
    std::optional<Date> date;  ///< nothing: it has more than one reading, or is no day at all
};

/// Every date in a name, in order, not overlapping: "2014-06-21", "2014_06_21", "20140621",
/// "21.06.2014", "140621", "21 June 2014", "June 21 2014".
std::vector<WrittenDate> dates_in(std::string_view name, DateOrder order);

/// A date that begins at the beginning of `text`; nothing when none does.
std::optional<WrittenDate> date_at_front(std::string_view text, DateOrder order);

/// For names below folders that give the year, or year and month: "06-21 Holt", "21 Holt". `year`
/// and `month` are those folders' names; `month` may be empty.
std::optional<WrittenDate> date_with_parents(std::string_view year, std::string_view month,
                                             std::string_view name, DateOrder order);

}  // namespace glassine::job

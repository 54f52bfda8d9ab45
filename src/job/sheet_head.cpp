#include "sheet_head.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace glassine::job {

std::string sheet_title(const SheetHead& head) {
    std::string title = fmt::format("{}", fmt::join(head.clients, " & "));
    if (!head.about.empty()) title += (title.empty() ? "" : ": ") + head.about;
    return title.empty() ? head.bag_name : title;
}

std::string sheet_line(const SheetHead& head) {
    std::string line = head.date;
    if (!head.studio.empty()) line += (line.empty() ? "" : " · ") + head.studio;
    return line;
}

}  // namespace glassine::job

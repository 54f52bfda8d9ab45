#include "report/keeping_words.h"

#include <fmt/format.h>

namespace glassine::report {

std::string keeping_words(const std::optional<Date>& promised, const std::optional<Date>& keep) {
    std::string out;
    if (promised) out = "promised to the client until " + iso_date(*promised);
    if (keep) out += fmt::format("{}to be kept until {}", out.empty() ? "" : ", ", iso_date(*keep));
    return out;
}

}  // namespace glassine::report

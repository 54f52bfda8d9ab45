#pragma once

#include "glassine/base/time.h"

#include <optional>
#include <string>

namespace glassine::report {

/// "promised to the client until 2027-06-14, to be kept until 2035-06-14"; a date that is not known
/// is left out, and without both it is empty.
std::string keeping_words(const std::optional<Date>& promised, const std::optional<Date>& keep);

}  // namespace glassine::report

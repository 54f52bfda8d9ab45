#pragma once

#include "glassine/job/folder_name.h"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::job {

/// A whole name read by one of the studio's patterns; nothing when it is not of that form.
std::optional<FolderReading> match_pattern(std::string_view pattern, std::string_view name,
                                           DateOrder order);

/// Why a pattern is none, as the end of a sentence; empty when it is one: it has {date}, {clients}
/// and {about}, each once, and no two fields without text between them.
std::string pattern_problem(std::string_view pattern);

/// "Holt & Brandvik": the clients one by one.
std::vector<std::string> clients_in(std::string text);

}  // namespace glassine::job

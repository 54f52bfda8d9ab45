#pragma once

#include "glassine/report/results.h"
#include "report/html.h"

#include <string>
#include <vector>

namespace glassine::report {

/// A path as one word of a shell's command line, whatever it holds.
std::string shell_word(std::string_view path);

/// What a person should do about a bag after an audit, the first thing first; empty: nothing.
/// Sentences; commands stand in <code>.
std::vector<Markup> next_steps(const AuditedBag& bag);

}  // namespace glassine::report

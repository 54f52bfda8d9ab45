#pragma once

#include "glassine/report/results.h"
#include "report/html.h"

#include <string>
#include <vector>

namespace glassine::report {

/// What a person should do about a bag after an audit, the first thing first; empty: nothing.
/// Sentences; commands stand in <code>.
std::vector<Markup> next_steps(const AuditedBag& bag);

}  // namespace glassine::report

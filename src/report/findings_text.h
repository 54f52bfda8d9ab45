#pragma once

#include "glassine/base/finding.h"
#include "glassine/report/terminal.h"

#include <string>
#include <vector>

namespace glassine::report {

/// Findings as lines, in the order given; many notes of one kind are told once, with their number.
std::string findings_text(const std::vector<Finding>& findings, const TerminalStyle& style);

/// "412 originals, 60 prints": sections as a photographer counts them.
std::string section_words(const std::vector<SectionCount>& sections);

}  // namespace glassine::report

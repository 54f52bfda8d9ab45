#pragma once

#include "glassine/report/results.h"

#include <string>
#include <string_view>

/// Results as text for a terminal. Names and metadata are escaped: no bag drives the terminal.
namespace glassine::report {

struct TerminalStyle {
    bool color = false;
    std::size_t most_findings =
        200;  ///< of one bag or job; the rest is counted (`--json` has all of them)
};

std::string to_text(const PreflightResult& result, const TerminalStyle& style);
std::string to_text(const CloseoutResult& result, const TerminalStyle& style);
std::string to_text(const AuditResult& result, const TerminalStyle& style);
std::string to_text(const MendResult& result, const TerminalStyle& style);
std::string to_text(const InspectResult& result, const TerminalStyle& style);

}  // namespace glassine::report

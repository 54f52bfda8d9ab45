#pragma once

#include "glassine/report/results.h"

#include <string>

/// One JSON document for each result, for programs. Keys are only ever added; sizes are integers,
/// times RFC 3339 in UTC, text is UTF-8 (ill-formed bytes of names become U+FFFD). docs/json.md
/// describes them.
namespace glassine::report {

std::string to_json(const PreflightResult& result);
std::string to_json(const CloseoutResult& result);
std::string to_json(const AuditResult& result);
std::string to_json(const MendResult& result);
std::string to_json(const InspectResult& result);

}  // namespace glassine::report

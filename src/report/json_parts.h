#pragma once

#include "glassine/report/results.h"

#include <optional>
#include <string>
#include <vector>

#include <nlohmann/json.hpp>

/// What the documents of all commands are made of.
namespace glassine::report {

using Json = nlohmann::ordered_json;

/// The fields that every document begins with.
Json common(const Common& result);
Json findings(const std::vector<Finding>& list);
Json sections(const std::vector<SectionCount>& list);
Json texts(const std::vector<std::string>& list);
/// `YYYY-MM-DD`; null for no day.
Json day(const std::optional<Date>& date);
/// The whole document as text.
std::string printed(const Json& json);

}  // namespace glassine::report

#pragma once

#include "glassine/bagit/encoding.h"
#include "glassine/bagit/rules.h"

#include <string>
#include <utility>

namespace glassine::bagit {

/// What a byte order mark at the beginning of a tag file, or the want of one, costs (8493 §2.3-6,
/// -7).
inline std::pair<Weight, std::string> judge_mark(bool marked, const Encoding& encoding,
                                                 const Rules& rules) {
    if (marked && encoding.utf8) return {rules.needless_mark, "it begins with a byte order mark"};
    if (marked && !encoding.needs_mark)
        return {Severity::warning,
                "it begins with a byte order mark, which " + encoding.name + " does not need"};
    if (!marked && encoding.needs_mark)
        return {Severity::warning, "it has no byte order mark; read with the high byte first"};
    return {std::nullopt, {}};
}

}  // namespace glassine::bagit

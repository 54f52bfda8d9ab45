#pragma once

#include "glassine/base/time.h"
#include "glassine/journeys/context.h"
#include "glassine/report/results.h"

#include <array>
#include <optional>

namespace glassine::journeys {

struct PreflightRequest {
    io::Path job;
    std::optional<Date> date;  ///< what the job is said to have been shot on
    std::array<std::optional<io::Path>, 4>
        sections;  ///< by `job::index`: folders given by the user
};

/// Looks a job folder over before it is closed out: is every picture whole, is every frame
/// accounted for? Reads every file once and changes nothing. The ending is `attention` when
/// something blocks.
report::PreflightResult preflight(const Context& context, const PreflightRequest& request);

}  // namespace glassine::journeys

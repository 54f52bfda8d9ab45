#pragma once

#include "glassine/job/layout.h"
#include "glassine/journeys/context.h"
#include "glassine/report/results.h"

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

namespace glassine::journeys {

/// A job folder sorted into its sections and counted, before a byte is read.
struct JobLook {
    job::Layout layout;  ///< with what an empty job, or one without originals, adds to the findings
    std::vector<report::SectionCount> sections;
    std::uint64_t payload_bytes = 0;
    std::uint64_t payload_files = 0;
    std::uint64_t largest_file = 0;
};

JobLook look_at_job(const Context& context, const io::Path& job,
                    const std::array<std::optional<io::Path>, 4>& sections);

}  // namespace glassine::journeys

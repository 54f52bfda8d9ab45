#pragma once

#include "glassine/base/finding.h"
#include "glassine/job/layout.h"

#include <span>
#include <vector>

namespace glassine::job {

/// `name-collision` for payload names, folders included, that differ only in case or normalisation:
/// one finding for each name beyond the first.
std::vector<Finding> find_collisions(std::span<const JobFile> files);

}  // namespace glassine::job

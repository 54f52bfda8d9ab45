#pragma once

#include "glassine/journeys/context.h"
#include "glassine/shelf/clearance.h"

#include <string>
#include <vector>

namespace glassine::journeys {

/// Every file of a medium or folder, by its digests.
struct MediumFiles {
    std::vector<shelf::MediumFile> files;  ///< those that were read whole, by path
    /// What could not be read (blocks a clearance), and notes of what was left out: links, and what
    /// operating systems and Glassine itself keep there.
    std::vector<Finding> findings;
    std::uint64_t bytes = 0;
    bool stopped = false;
};

/// Reads every file below `folder` once and computes its digests. Wastebaskets and recovered pieces
/// are read like everything else: they may hold pictures. Throws Error when the folder cannot be
/// listed.
MediumFiles read_medium(const Context& context, const io::Path& folder,
                        const std::vector<digest::Algorithm>& algorithms);

}  // namespace glassine::journeys

#pragma once

#include "glassine/journeys/context.h"
#include "glassine/report/results.h"

#include <vector>

namespace glassine::journeys {

struct MendRequest {
    io::Path bag;
    /// Other copies of the same bag, damaged or not. None named: those that the register knows on
    /// connected volumes.
    std::vector<io::Path> from;
    bool dry_run = false;  ///< tell beforehand what can be healed
};

/// Heals what is damaged in a bag: from its own recovery data, then from other copies, block by
/// block where every copy is damaged in a different place.
///
/// No byte is written into the bag unless its digest is proven: payload files by the payload
/// manifest, that manifest and the other tag files by the tag manifest. Each healed file is made
/// beside the bag and then put in its place; the damaged one is kept in a quarantine folder beside
/// the bag, with a log of what had changed (healing.txt). What cannot be healed stays as it is. A
/// crash at any moment loses nothing: running again goes on.
///
/// The ending is `good` when the bag is whole afterwards, `attention` when something is beyond
/// repair (in a dry run: when something would be). Throws Error when the bag cannot be read or its
/// volume cannot be written.
report::MendResult mend(const Context& context, const MendRequest& request);

}  // namespace glassine::journeys

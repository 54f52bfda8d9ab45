#pragma once

#include "glassine/journeys/context.h"
#include "glassine/report/results.h"
#include "journeys/closeout_plan.h"

namespace glassine::journeys {

/// Sends the archive file that another copy of this close-out is (`sealed`, on a drive) to the
/// place of a copy in an object store, where none is made of its own: read once more, proven there
/// as an archive that is carried (`carry_archive`). What an interrupted run left there is gone on
/// from. Never throws Error: what goes wrong stands in the copy.
report::Copy send_archive(const Context& context, const io::Path& sealed, const Place& place);

}  // namespace glassine::journeys

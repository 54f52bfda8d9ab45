#pragma once

#include "glassine/bagit/check.h"
#include "glassine/journeys/context.h"

namespace glassine::journeys {

/// How a journey reads: with its memory and threads, stopping when it stops.
flow::Options reading_options(const Context& context);

/// Listing, tag files and structure of a bag's folder.
bagit::Bag load_bag(const Context& context, const io::Path& folder,
                    const bagit::LoadOptions& options = {});

/// Checks a bag that stands somewhere already, past the cache. `report.stopped` when the user
/// stopped it.
bagit::BagReport read_again(const Context& context, const io::Path& folder);

/// Clears what a run may have left beside a bag when it was cut off at its very end, with the bag
/// published. Never throws: it harms nothing there, and the next run tries again.
void clear_leftovers_beside(const Context& context, const io::Path& bag) noexcept;

/// Whether a finding says of a file that it is not what a manifest lists.
bool calls_for_mending(const Finding& finding);

}  // namespace glassine::journeys

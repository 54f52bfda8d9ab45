#pragma once

#include "glassine/journeys/context.h"
#include "glassine/report/migrate_result.h"

namespace glassine::journeys {

/// Reads a bag that stands at the destination from its medium and says whether it is a whole copy
/// of `source`: every tag file the same, but for those that are damaged at the source, and every
/// file proven. Fills in path, fate, how and failure.
void prove_standing(const Context& context, const io::Path& source, const io::Path& standing,
                    report::MigratedBag& bag);

/// For a bag that was made of `source` by an upgrade: the previous tag files are those of `source`,
/// and every file is proven.
void prove_upgraded(const Context& context, const io::Path& source, const io::Path& standing,
                    report::MigratedBag& bag);

}  // namespace glassine::journeys

#pragma once

#include "glassine/journeys/context.h"
#include "glassine/report/migrate_result.h"
#include "journeys/source_tree.h"

#include <string>
#include <vector>

namespace glassine::journeys {

/// A bag on its way to a new place.
struct CarryRequest {
    io::Path bag;
    io::Path folder;               ///< that the copy is to stand in; it exists
    std::vector<io::Path> others;  ///< other copies of this bag, damaged or not
    /// Rather no copy than one with damage: `failed` then, and nothing stands there.
    bool only_whole = false;
};

/// Lists what is to be moved and notes it.
SourceTree look_at_source(const Context& context, const CarryRequest& request,
                          report::MigratedBag& bag);
/// Notes why there is no copy.
void failed(report::MigratedBag& bag, const Error& error);

/// Carries a bag bit for bit: one read of the source proves it by its own manifests, whatever their
/// algorithm, and writes the copy, which is then read back past the cache and published under the
/// bag's name. Files that are damaged are put right in the copy where another copy or the bag's
/// recovery data allows; else they are carried as they are (what cannot be read: as zeros) and
/// found. A copy that stands there already is read and proven instead.
///
/// What goes wrong is told in the result. Throws Error only when interrupted.
report::MigratedBag carry(const Context& context, const CarryRequest& request);

}  // namespace glassine::journeys

#pragma once

#include "glassine/shelf/register.h"
#include "journeys/carry.h"

#include <optional>

namespace glassine::journeys {

struct CarriedArchive {
    report::MigratedBag bag;
    /// What was seen of the bag in a compressed archive, which would have to be unpacked again.
    std::optional<shelf::BagRecord> met;
};

/// Carries a bag that is packed into one file, bit for bit and packed as it is: the file is read
/// once and written; the bag in the copy is proven by its own manifests, and the copy read back
/// past the cache and compared, before it gets its name. Of one that is damaged a whole one among
/// `others` (an archive of the same name) is carried instead; else the bag in it as a folder, where
/// that can be healed (`carry_healed`); else the archive with its damage, which is found. One that
/// stands there already is read and proven instead.
///
/// Nothing when there is no bag in the archive: it was not carried. What goes wrong is told in the
/// result. Throws Error only when interrupted.
std::optional<CarriedArchive> carry_archive(const Context& context, const CarryRequest& request);

}  // namespace glassine::journeys

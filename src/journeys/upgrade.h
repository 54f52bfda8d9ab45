#pragma once

#include "journeys/carry.h"

namespace glassine::journeys {

/// Whether a bag is as `closeout` makes them today: BagIt 1.0 with SHA-512 manifests for payload
/// and tag files. Others can be upgraded.
bool is_up_to_date(const Context& context, const io::Path& bag);

/// Makes a new BagIt 1.0 bag of an old one: SHA-512 manifests, recovery data (`percent` of the
/// payload; 0: none) and a photo index, the previous tag files in the tag directory previous/, and
/// an event that says what was done. The payload is the same, under the same names. One read of the
/// source proves the old digests and makes everything new.
///
/// A bag with damage is not upgraded, since new manifests would call the damage right: it is
/// carried instead (see `carry`), and that is told. Throws Error only when interrupted.
report::MigratedBag upgrade(const Context& context, const CarryRequest& request, unsigned percent);

}  // namespace glassine::journeys

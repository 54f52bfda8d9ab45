#pragma once

#include "journeys/carry.h"

#include <optional>
#include <string>

namespace glassine::journeys {

/// The way out for a damaged archive (`request.bag`) of which no whole one is known: an archive is
/// never rewritten, but the bag in it can be carried as a folder and healed on the way, as `carry`
/// does, from its own recovery data and from `request.others`, folders and archives. One that is
/// compressed, torn, or more than one bag is not read so; the folder of another copy with the same
/// `seal` (that of the damaged archive, where it has one) is carried in its place. The result
/// counts the archive as the one file that it is at the source.
///
/// Nothing, and nothing published, when that would not be whole. Throws Error only when
/// interrupted.
std::optional<report::MigratedBag> carry_healed(const Context& context, const CarryRequest& request,
                                                const std::optional<std::string>& seal);

}  // namespace glassine::journeys

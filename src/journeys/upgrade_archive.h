#pragma once

#include "journeys/upgrade.h"

#include <optional>

namespace glassine::journeys {

/// Makes a new bag, a folder, of an old one that is packed into one file, as `upgrade` does:
/// `request.bag` is the archive, `request.others` are folders in the context. The result counts the
/// archive as the one file that it is at the source.
///
/// Nothing, and nothing done, when the archive is to be carried as it is: the bag in it is up to
/// date, it is compressed (`why` says so), or it holds anything but one whole bag. Throws Error
/// only when interrupted.
std::optional<report::MigratedBag> upgrade_archive(const Context& context,
                                                   const CarryRequest& request, unsigned percent,
                                                   std::string& why);

}  // namespace glassine::journeys

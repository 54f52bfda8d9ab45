#pragma once

#include "glassine/base/finding.h"
#include "glassine/journeys/context.h"
#include "glassine/report/migrate_result.h"

#include <chrono>
#include <optional>
#include <set>
#include <string>
#include <vector>

namespace glassine::journeys {

struct MigrateRequest {
    std::vector<io::Path> sources;  ///< each a bag, or a folder or drive of bags
    std::string to;                 ///< a folder on the new drive
    /// Other copies to heal from: bags, or folders and drives of bags; a bag is found there by its
    /// name.
    std::vector<io::Path> from;
    /// No further bag is begun when this time is up; the one that is under way is finished.
    /// Nothing: until all is done.
    std::optional<std::chrono::duration<double>> budget;
    /// Make new bags of old ones: BagIt 1.0, SHA-512, recovery data, photo index.
    bool upgrade = false;
    /// Close out old folders that were never bags, as far as their names can be read.
    bool adopt = false;
    std::set<FindingKind> accept;   ///< for adopted folders, as in a close-out
    unsigned recovery_percent = 0;  ///< for what is upgraded or adopted, as in a close-out
};

/// Carries archives to a new drive: every bag at or below the sources, in the folders in which they
/// stand there, bags packed into one file too. Of a drive that is a volume of the shelf those at
/// risk come first, then the longest unproven, as in an audit. A bag that went wrong does not keep
/// the others from going; a bag that stands at the destination already and is proven is passed
/// over, so an interrupted migration goes on where it stopped. Nothing unproven is ever trusted.
/// Sources are only read.
///
/// The result tells for each source what it held, where each item is now, and what was left: the
/// ending is `good` only when every file on the sources is accounted for, `attention` when damage
/// was carried or something is left for a person to decide, `failed` when a bag has no proven copy.
/// Throws Error for what is wrong before the first byte.
report::MigrateResult migrate(const Context& context, const MigrateRequest& request);

}  // namespace glassine::journeys

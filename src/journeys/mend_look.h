#pragma once

#include "glassine/bagit/check.h"
#include "glassine/journeys/context.h"
#include "glassine/recovery/damage.h"
#include "glassine/recovery/rebuilder.h"
#include "glassine/recovery/recovery_set.h"
#include "journeys/mend_proofs.h"

#include <memory>
#include <set>
#include <string>
#include <vector>

namespace glassine::journeys {

/// The bag that is mended and what may help.
struct MendPlace {
    io::Path bag;                  ///< resolved
    std::vector<io::Path> others;  ///< further copies, resolved, without the bag itself

    recovery::RebuildOptions rebuild_options(const Context& context) const;
};

/// The one tag manifest that Glassine writes: tagmanifest-sha512.txt.
const std::string& tag_manifest_name();
const std::string& payload_manifest_name();  ///< manifest-sha512.txt

/// What one read of the bag tells: what is wrong by its digest, and where, by the recovery data's
/// check values.
struct MendLook {
    bagit::BagReport report;
    std::unique_ptr<recovery::RecoverySet> set;
    Proofs proofs;
    std::vector<recovery::FileDamage> damages;  ///< located
    std::set<std::string> wrong;                ///< names of files that are not what they should be

    /// Recovery files of groups of which none is left: a bag has both groups or none. How many a
    /// group had is not known here; the first there was.
    std::vector<std::string> lost_groups() const;
    /// Names that a whole tag manifest lists: the covered tag files and the recovery files.
    std::set<std::string> sealed_tag_files() const;
    /// The tag files and recovery files among `wrong`, without the tag manifest.
    bool other_tags_wrong() const;
};

/// `words`: what the monitor is told. `suspicion`: the tag manifest is known not to be what it was.
MendLook look_for_damage(const Context& context, const MendPlace& place, const std::string& words,
                         bool suspicion = false);

}  // namespace glassine::journeys

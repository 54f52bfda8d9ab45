#pragma once

#include "glassine/bagit/bag.h"
#include "glassine/journeys/context.h"
#include "journeys/mend_proofs.h"

#include <set>
#include <string>
#include <vector>

namespace glassine::journeys {

/// Tag files of a loaded bag that are not what its tag manifests say, and manifests that it lists
/// and has lost. Only for a bag that was loaded with digests.
std::set<std::string> damaged_tag_files(const bagit::Bag& bag);

/// The digests by which the files of a bag can be proven although a manifest of it may be damaged:
/// manifests count that are themselves what the tag manifest says; a damaged one is put right in
/// memory from another copy or the recovery data, or the manifests of another copy take its place.
struct TrustedProofs {
    Proofs proofs;
    std::vector<Finding> findings;  ///< what was wrong with manifests, and where the proof is from
};
TrustedProofs trusted_proofs(const Context& context, const io::Path& path, const bagit::Bag& bag,
                             const std::vector<io::Path>& others);

}  // namespace glassine::journeys

#pragma once

#include "glassine/flow/sink.h"
#include "glassine/journeys/restore.h"
#include "journeys/bag_source.h"
#include "journeys/mend_proofs.h"

#include <string>
#include <vector>

namespace glassine::journeys {

/// What is to be handed out.
struct RestorePlan {
    std::vector<flow::Item>
        items;  ///< by name; files that are lost too, with what is known of them
    std::vector<Finding> findings;  ///< frames that nothing answers to, files that nothing proves
};

/// Chooses by sections and frames among all that the bag holds or should hold. Error `not_found`
/// when that leaves nothing, saying what there is.
RestorePlan plan_restore(const RestoreRequest& request, BagSource& bag, const Proofs& proofs);

/// "print/0042.jpg" for "data/print/0042.jpg".
std::string handed_out_name(const std::string& bag_name);

}  // namespace glassine::journeys

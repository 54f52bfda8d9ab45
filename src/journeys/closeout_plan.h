#pragma once

#include "glassine/flow/sink.h"
#include "glassine/journeys/closeout.h"
#include "journeys/copies.h"
#include "journeys/job_look.h"
#include "journeys/standing_copies.h"

#include <optional>
#include <string>
#include <vector>

namespace glassine::journeys {

/// All that is known before the first byte is read.
struct CloseoutPlan {
    std::string bag_name;
    JobLook look;
    std::vector<flow::Item> items;  ///< one for each of `look.layout.files`, in their order
};

/// Names the bag and sorts the job into its sections.
CloseoutPlan plan_closeout(const Context& context, const CloseoutRequest& request);

/// Where one copy on one of the destinations that the user named stands in the books.
struct Place {
    std::string destination;  ///< as the user named it
    std::string path;         ///< of the bag there: a folder or an archive file
    bool standing = false;    ///< an earlier run has sealed the copy there
    std::size_t number = 0;   ///< in the standing copies, or in those to be made
    /// An archive in an object store is not made there, but sent from the copy of this place, once
    /// that is sealed.
    std::optional<std::size_t> sent_from;
};

/// The copies to make, each place looked at, in the order in which they were named. Error for a
/// destination that is missing, inside the job, around it, named twice, taken by something else or
/// too small, for an archive in an object store without one on a drive, and when the bag stands at
/// all of them already.
std::vector<Place> plan_copies(const Context& context, const CloseoutRequest& request,
                               const CloseoutPlan& plan, Copies& copies, StandingCopies& standing);

}  // namespace glassine::journeys

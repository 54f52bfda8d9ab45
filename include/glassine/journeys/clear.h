#pragma once

#include "glassine/journeys/context.h"
#include "glassine/report/clear_result.h"

#include <optional>
#include <vector>

namespace glassine::journeys {

struct ClearRequest {
    io::Path path;                   ///< a card, a working disk, a server folder, an old drive
    std::vector<io::Path> against;   ///< plain folders that hold its content, read now
    std::optional<unsigned> copies;  ///< wanted on different volumes; nothing: the policy's
};

/// May this medium be wiped? Reads every file at `path` once, and every file of the folders
/// `against`, and asks where each content is held: in whole copies of sealed bags that were proven
/// recently, on other volumes than this one, or in those folders. A rejected raw may go when what
/// stands for it is held. Tag files of a bag that stands on the medium may go when copies of the
/// same seal stand elsewhere.
///
/// Nothing is deleted, and nothing is written to a medium without an identity of ours. The ending
/// is `attention` unless the medium is clear. A clear result is signed when the person who runs
/// this is named in the studio file as one who clears media; that is recorded in the register and
/// in the logs of the connected volumes.
///
/// Throws Error when the folders cannot be looked at, or when one of `against` is `path`, lies in
/// it or holds it.
report::ClearResult clear(const Context& context, const ClearRequest& request);

}  // namespace glassine::journeys

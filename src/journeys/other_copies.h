#pragma once

#include "journeys/shelf_records.h"

#include <string>
#include <vector>

namespace glassine::journeys {

/// Further copies of a bag, as the register knows them.
struct OtherCopies {
    /// Where those on connected volumes stand, folders and archives, the best first. Copies that
    /// were exchanged are none.
    std::vector<io::Path> connected;
    /// Volumes of the others, as a person looks for them: "SHELF-07 (cupboard B)".
    std::vector<std::string> elsewhere;
};

/// Of the bag called `name`, but for the one that stands at `here` (resolved).
OtherCopies other_copies(ShelfRecords& records, const std::string& name, const io::Path& here);

/// "there is another copy on SHELF-07 (cupboard B): connect it and run this again", a note for each
/// volume: for what is beyond repair with what is at hand.
std::vector<Finding> copies_to_fetch(const std::vector<std::string>& elsewhere);

}  // namespace glassine::journeys

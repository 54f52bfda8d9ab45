#pragma once

#include "glassine/bagit/check.h"
#include "glassine/journeys/context.h"
#include "glassine/report/results.h"
#include "journeys/shelf_records.h"

#include <string>
#include <vector>

namespace glassine::journeys {

/// What a mending has to do with the shelf: which other copies can help, and what is written down.
class MendShelf {
  public:
    explicit MendShelf(const Context& context) : context_(context), records_(context) {}

    /// Where other copies stand that the register knows on connected volumes, folders and
    /// archives, the best first; copies
    /// that were exchanged are none. Those on volumes that are not connected are named at the end,
    /// if they are needed.
    std::vector<io::Path> other_copies(const io::Path& bag);

    /// Records what was healed and what the bag is like now (`last_look`), unless it was a dry run;
    /// adds to the result's findings what there is to say.
    void conclude(const io::Path& bag, const bagit::BagReport& last_look,
                  report::MendResult& result);

  private:
    void note_checksums(const io::Path& bag, const bagit::BagReport& last_look,
                        const report::MendResult& result);

    const Context& context_;
    ShelfRecords records_;
    std::vector<std::string> elsewhere_;
};

}  // namespace glassine::journeys

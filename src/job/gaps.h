#pragma once

#include "evidence.h"
#include "glassine/job/accounting.h"

#include <cstddef>
#include <span>
#include <vector>

namespace glassine::job {

struct Counting {
    std::vector<Gap> gaps;
    std::vector<Uncounted> uncounted;
};

/// Another job may have been shot between the two: they are most of a day apart.
bool on_another_day(const Frame& before, const Frame& behind);

/// The numbers that are missing, over kept and rejected frames together.
///
/// DCF 2.0 numbers files 0001 to 9999 and goes on with 0001; cameras go on counting in the next
/// folder or begin again there (both common practice, no source). A number counts as missing when a
/// body skipped it going forward in time. A step back is a new beginning, not a gap. Where bodies
/// cannot be told apart by serial, only small steps count, and what any of them shot is not
/// missing. Frames whose numbers follow no counting (common practice, no source; the rules are in
/// docs/frame-accounting.md) have no gaps, they are `Uncounted`.
Counting find_gaps(std::span<const Frame> frames, std::span<const Evidence> faces,
                   std::span<const Body> bodies);

}  // namespace glassine::job

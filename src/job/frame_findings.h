#pragma once

#include "clocks.h"
#include "glassine/job/accounting.h"

#include <cstddef>
#include <span>
#include <vector>

/// What the accounting says about frames that are put together. Each function finds one kind of
/// thing.
namespace glassine::job {

using Files = std::span<const JobFile>;
using Frames = std::span<const Frame>;

std::vector<Finding> deliveries_without_original(Files files, Frames frames);
/// One note for all of them.
std::vector<Finding> originals_not_delivered(Files files, Frames frames);
std::vector<Finding> rejects_without_proxy(Files files, Frames frames,
                                           std::span<const Observed> observed);
std::vector<Finding> orphans(Files files, std::span<const std::size_t> sidecars);
std::vector<Finding> duplicate_names(Files files, Frames frames, std::span<const Body> bodies);
std::vector<Finding> duplicate_contents(Files files, std::span<const Observed> observed);
std::vector<Finding> gap_findings(Files files, const Accounting& accounting);
std::vector<Finding> clock_findings(Files files, const Accounting& accounting,
                                    std::span<const ClockShift> shifts);
/// `date` against the days on which frames were shot.
std::vector<Finding> date_findings(Frames frames, Date date);

/// The file that stands for the frame in a finding: its original, else what else is there.
std::size_t first_file(const Frame& frame);

}  // namespace glassine::job

#pragma once

#include "glassine/shelf/facts.h"
#include "glassine/shelf/policy.h"

#include <functional>
#include <string>
#include <vector>

namespace glassine::shelf {

/// A copy with the volume it stands on.
struct Placed {
    const CopyFacts* copy;
    const VolumeFacts* volume;
};

/// The copies of a bag that `wanted` lets through and whose volume is known.
std::vector<Placed> placed_copies(const Facts& facts, const BagFacts& bag,
                                  const std::function<bool(const CopyFacts&)>& wanted);

/// Without archives beside a folder of the same bag on the same volume: one fault takes both, so
/// that they are no further copy.
std::vector<Placed> separate(std::vector<Placed> copies);

struct Tally {
    unsigned copies = 0;
    unsigned volumes = 0;
    unsigned off_site = 0;
    unsigned media_kinds = 0;
};
/// Counts the copies that are `separate`.
Tally tally_of(const std::vector<Placed>& copies);

/// "2 of 3 copies", "0 of 1 copies off site", …: what the policy asks for and the tally lacks.
std::vector<std::string> lacks(const Tally& tally, const Policy& policy);

std::optional<Date> promised_until(const BagFacts& bag, const Policy& policy);
std::optional<Date> keep_until(const BagFacts& bag, const Policy& policy);
/// The day after which the bag may be let go: what was promised binds longer than what was meant.
std::optional<Date> let_go_after(const BagFacts& bag, const Policy& policy);

}  // namespace glassine::shelf

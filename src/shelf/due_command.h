#pragma once

#include "glassine/shelf/facts.h"
#include "glassine/shelf/policy.h"
#include "shelf/tally.h"

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::shelf {

/// Where a copy stands, as far as is known: the volume's last root (or its label) and the path.
std::string place_of_copy(const Placed& copy);

/// The folder that the copy stands in.
std::string folder_of_copy(const Placed& copy);

/// "SHELF-07 (cupboard B)".
std::string name_and_place(const VolumeFacts& volume);

/// Bytes of all copies that stand on each volume, by id.
std::map<std::string, std::uint64_t, std::less<>> used_bytes(const Facts& facts);

/// The volume to carry a further copy of the bag to: in service, without a copy of it, not due for
/// replacement, of a kind that is still lacking, with room for it; its root as a shell word, or a
/// word in capitals for what has to be bought.
std::string destination_for(const Facts& facts,
                            const std::map<std::string, std::uint64_t, std::less<>>& used,
                            const BagFacts& bag, const std::vector<Placed>& copies,
                            const Policy& policy, Date today);

/// Why and since when a volume is to be replaced; nothing if it is not.
struct Replacement {
    Date since;
    std::string why;
};
std::optional<Replacement> replacement_of(const VolumeFacts& volume, const Policy& policy,
                                          Date today);

}  // namespace glassine::shelf

#pragma once

#include "shelf/register_inside.h"

#include <map>
#include <string>
#include <vector>

namespace glassine::shelf {

/// A row of `bags`, without copies.
struct BagRow {
    std::int64_t id = 0;
    std::string seal;
    bool described = false;  ///< false: known from events only
    BagFacts facts;
};

struct BagGroups {
    std::vector<BagFacts> bags;
    std::map<std::int64_t, std::size_t> of_row;  ///< bag row to index in `bags`
    std::vector<CopyRow> copies;                 ///< the same copies with their bag rows
};

using SealMap = std::map<std::string, std::vector<SealWitness>, std::less<>>;

/// Puts rows of one bag together (see BagFacts) and hands each its copies. A row that is known from
/// events only joins another of its name. Copies whose seal the bag was never given are `replaced`
/// and join the bag whose place they took: the one with the same payload size, or one that stood
/// on the same volume.
BagGroups group_bags(std::vector<BagRow> rows, std::vector<CopyRow> copies, const SealMap& seals);

/// All bags of the register.
BagGroups load_groups(sql::Database& database);

}  // namespace glassine::shelf

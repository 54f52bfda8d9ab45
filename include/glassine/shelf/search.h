#pragma once

#include "glassine/shelf/facts.h"
#include "glassine/shelf/register.h"

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::shelf {

struct SearchHit {
    BagFacts bag;
    double score = 0;                 ///< 1: every word as asked for; less: words half remembered
    std::vector<std::string> frames;  ///< up to five frames that the words name
};

/// Finds bags by words of the client, the date, the description, the job number, the bag's name or
/// its frames. Blind to case and accents; a word may be the beginning or the inside of another, or
/// one or two letters off; months may be words ("september"). Best first, then the latest shoot.
/// Empty when no word is left after folding.
std::vector<SearchHit> find_bags(Register& reg, std::string_view words, std::size_t limit = 50);

}  // namespace glassine::shelf

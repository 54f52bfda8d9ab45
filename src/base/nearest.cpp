#include "glassine/base/text.h"

#include <algorithm>
#include <limits>
#include <vector>

namespace glassine::text {
namespace {

/// Optimal string alignment distance, three rows at a time.
std::size_t distance(std::string_view a, std::string_view b) {
    std::vector<std::size_t> before;
    std::vector<std::size_t> above(b.size() + 1);
    for (std::size_t j = 0; j <= b.size(); ++j)
        above[j] = j;
    for (std::size_t i = 1; i <= a.size(); ++i) {
        std::vector<std::size_t> row(b.size() + 1);
        row[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const std::size_t replaced = above[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
            row[j] = std::min({above[j] + 1, row[j - 1] + 1, replaced});
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                row[j] = std::min(row[j], before[j - 2] + 1);
        }
        before = std::move(above);
        above = std::move(row);
    }
    return above[b.size()];
}

}  // namespace

std::string nearest(std::string_view word, std::span<const std::string> known) {
    std::string best;
    std::size_t least = std::numeric_limits<std::size_t>::max();
    for (const std::string& candidate : known) {
        const std::size_t changes = distance(word, candidate);
        if (changes >= least) continue;
        least = changes;
        best = candidate;
    }
    return best;
}

}  // namespace glassine::text

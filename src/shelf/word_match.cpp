#include "shelf/word_match.h"

#include "shelf/search_words.h"

#include <algorithm>
#include <array>

namespace glassine::shelf {

namespace {

constexpr std::size_t longest = 32;

/// Letters changed, left out, put in or swapped with their neighbour (optimal string alignment)
/// between two words of at most `longest` letters.
unsigned distance(std::string_view a, std::string_view b) {
    std::array<std::array<unsigned, longest + 1>, 3> rows{};
    for (unsigned k = 0; k <= b.size(); ++k)
        rows[0][k] = k;
    for (std::size_t i = 1; i <= a.size(); ++i) {
        auto& row = rows[i % 3];
        const auto& above = rows[(i + 2) % 3];
        const auto& two_above = rows[(i + 1) % 3];
        row[0] = static_cast<unsigned>(i);
        for (std::size_t k = 1; k <= b.size(); ++k) {
            const unsigned changed = a[i - 1] == b[k - 1] ? 0 : 1;
            row[k] = std::min({above[k] + 1, row[k - 1] + 1, above[k - 1] + changed});
            if (i > 1 && k > 1 && a[i - 1] == b[k - 2] && a[i - 2] == b[k - 1]) {
                row[k] = std::min(row[k], two_above[k - 2] + 1);
            }
        }
    }
    return rows[a.size() % 3][b.size()];
}

double nearly(std::string_view asked, std::string_view stands) {
    const unsigned allowed = asked.size() >= 7 ? 2 : asked.size() >= 4 ? 1 : 0;
    if (allowed == 0 || asked.size() > longest) return 0;
    // The beginning of a longer word may be off by a letter as well.
    const std::string_view whole = stands.substr(0, longest);
    const std::string_view beginning = stands.substr(0, asked.size());
    double best = 0;
    if (whole.size() + allowed >= asked.size() && whole.size() <= asked.size() + allowed) {
        const unsigned off = distance(asked, whole);
        if (off <= allowed) best = off <= 1 ? 0.7 : 0.55;
    }
    if (best == 0 && beginning.size() == asked.size() && distance(asked, beginning) <= 1)
        best = 0.5;
    return best;
}

}  // namespace

double word_match(std::string_view asked, std::string_view stands) {
    if (asked == stands) return 1;
    if (is_number(asked) || is_number(stands) || asked.size() < 2) return 0;
    if (stands.starts_with(asked)) return 0.9;
    if (asked.size() >= 3 && stands.find(asked) != std::string_view::npos) return 0.8;
    return nearly(asked, stands);
}

}  // namespace glassine::shelf

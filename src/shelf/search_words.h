#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace glassine::shelf {

/// The words of a text for searching: folded (text::fold_for_search), cut where letters meet
/// digits, numbers without leading zeros, so that "KLA_0412", "kla 412" and "KLA0412" are the same
/// two words.
std::vector<std::string> search_words(std::string_view text);

inline bool is_number(std::string_view word) {
    return !word.empty() && word.front() >= '0' && word.front() <= '9';
}

}  // namespace glassine::shelf

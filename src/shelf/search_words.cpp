#include "shelf/search_words.h"

#include "glassine/base/text.h"

#include <algorithm>

namespace glassine::shelf {

namespace {

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

std::string_view without_zeros(std::string_view digits) {
    const std::size_t first = digits.find_first_not_of('0');
    return digits.substr(std::min(first, digits.size() - 1));
}

}  // namespace

std::vector<std::string> search_words(std::string_view text) {
    const std::string folded = text::fold_for_search(text);
    std::vector<std::string> words;
    std::size_t at = 0;
    while (at < folded.size()) {
        if (folded[at] == ' ') {
            ++at;
            continue;
        }
        const bool digits = is_digit(folded[at]);
        std::size_t end = at;
        while (end < folded.size() && folded[end] != ' ' && is_digit(folded[end]) == digits)
            ++end;
        const std::string_view word = std::string_view(folded).substr(at, end - at);
        words.emplace_back(digits ? without_zeros(word) : word);
        at = end;
    }
    return words;
}

}  // namespace glassine::shelf

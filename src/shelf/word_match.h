#pragma once

#include <string_view>

namespace glassine::shelf {

/// How well a word that somebody remembers fits a word that stands somewhere, both folded: 1 the
/// same, then beginnings, insides, one letter off (from four letters on), two letters off (from
/// seven); 0 not at all. Numbers fit exactly or not.
double word_match(std::string_view asked, std::string_view stands);

}  // namespace glassine::shelf

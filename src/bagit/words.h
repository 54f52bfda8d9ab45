#pragma once

#include <string>
#include <string_view>
#include <vector>

/// Pieces of sentences for findings.
namespace glassine::bagit {

/// As much of a text as belongs into a sentence; the rest becomes "…".
std::string excerpt(std::string_view text, std::size_t most = 120);
/// A path for a finding: whole unless it is longer than any path can be.
std::string shown_path(std::string_view path);
/// "a", "a and b", "a, b and c".
std::string listed(const std::vector<std::string>& names);
/// "sha512" as people write it: "SHA-512".
std::string algorithm_words(std::string_view algorithm);

}  // namespace glassine::bagit

#pragma once

#include "glassine/digest/digest.h"

#include <algorithm>
#include <span>
#include <utility>

namespace glassine::bagit {

/// A digest as a key to sort and search by.
using DigestKey = std::pair<digest::Algorithm, std::span<const std::byte>>;

inline bool before(const DigestKey& a, const DigestKey& b) {
    if (a.first != b.first) return a.first < b.first;
    return std::ranges::lexicographical_compare(a.second, b.second);
}

}  // namespace glassine::bagit

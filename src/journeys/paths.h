#pragma once

#include "glassine/io/file_system.h"

#include <algorithm>

namespace glassine::journeys {

/// Whether `inner` is `outer` or lies below it; both resolved.
inline bool lies_within(const io::Path& inner, const io::Path& outer) {
    return std::mismatch(outer.begin(), outer.end(), inner.begin(), inner.end()).first ==
           outer.end();
}

}  // namespace glassine::journeys

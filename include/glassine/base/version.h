#pragma once

#include <string_view>

namespace glassine {

/// The version of Glassine, e.g. "0.1.0".
std::string_view version();

}  // namespace glassine

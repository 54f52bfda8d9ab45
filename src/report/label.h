#pragma once

#include "glassine/report/shelf_pages.h"

#include <cstddef>
#include <string>

namespace glassine::report {

/// How much of a seal is shown where an eye compares it.
inline constexpr std::size_t short_seal = 12;

/// "next audit 2027-11-25", "audit due since 2026-03-01", "out of service since …"; may be empty.
std::string audit_words(const VolumeLabel& label, Date today);

}  // namespace glassine::report

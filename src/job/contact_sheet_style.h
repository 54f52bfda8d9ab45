#pragma once

#include "glassine/job/page_style.h"

namespace glassine::job {

/// A contact sheet needs nothing beside the look of all pages.
inline constexpr std::string_view contact_sheet_style = page_style;

}  // namespace glassine::job

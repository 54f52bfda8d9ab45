#pragma once

#include "glassine/job/contact_sheet.h"

#include <string>
#include <string_view>

/// What contact sheet and gallery page have at their top.
namespace glassine::job {

/// The policy keeps any browser from fetching anything that is not beside the page.
inline constexpr std::string_view sheet_policy =
    "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
    "img-src 'self' file:; style-src 'unsafe-inline'\">\n";

/// "Holt & Brandvik: harbour gala", or the bag's name where neither is known. Not escaped.
std::string sheet_title(const SheetHead& head);
/// "2025-06-14 · Lantern Quay"; what is not known is left out. Not escaped.
std::string sheet_line(const SheetHead& head);

}  // namespace glassine::job

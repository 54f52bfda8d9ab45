#pragma once

#include "cli/page.h"

#include <string>
#include <string_view>

namespace glassine::cli {

/// "glassine-audit": of the program, or of one of its commands.
std::string man_page_name(const Page& page);

/// A manual page in section 1, as man(7) has it. `above` is the program's own page, for SEE ALSO;
/// `date` is the release's, "2025-09-06".
std::string man_page(const Page& page, const Page& above, std::string_view date);

}  // namespace glassine::cli

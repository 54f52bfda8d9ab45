#pragma once

#include "cli/page.h"

#include <string>

namespace glassine::cli {

/// What `--help` prints: what it does, examples, then options, in lines of 80 characters.
std::string help_text(const Page& page);

}  // namespace glassine::cli

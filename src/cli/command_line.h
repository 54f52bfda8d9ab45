#pragma once

#include "cli/program.h"

namespace glassine::cli {

/// Reads the command line and runs the command. Gives the exit code; prints help, version and
/// complaints itself.
int run_command_line(Program& program, int argc, const char* const* argv);

}  // namespace glassine::cli

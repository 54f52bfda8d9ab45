#pragma once

#include "cli/program.h"

#include <memory>

namespace glassine::cli {

/// The whole command line: common options, every command with its options and help. What the
/// program reads, and what help, manual and completions are made of (`page_of`).
/// `program` must live as long as it.
std::unique_ptr<CLI::App> application(Program& program);

}  // namespace glassine::cli

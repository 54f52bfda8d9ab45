#pragma once

#include <cstdint>
#include <filesystem>

namespace demo {

using Work = void (*)(const std::filesystem::path& folder, std::uint64_t seed);

/// `NAME FOLDER [--seed NUMBER]`: does the work and returns the exit code: 0 done, 2 wrong command
/// line, 3 it could not be done (any std::exception; its words go to standard error).
int run_command(int argc, char** argv, const char* name, const char* folder_word, Work work);

}  // namespace demo

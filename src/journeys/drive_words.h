#pragma once

#include "glassine/io/file_system.h"

#include <string>

namespace glassine::journeys {

/// "Model 9, serial 77": what the system tells of the drive that a path lies on; empty where it
/// tells nothing.
std::string drive_words(io::FileSystem& files, const io::Path& path);

}  // namespace glassine::journeys

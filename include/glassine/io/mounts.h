#pragma once

#include "glassine/io/file_system.h"

#include <vector>

namespace glassine::io {

/// The folders at which media are mounted on this computer, without those of network shares (a
/// share whose server is gone would hold up whoever looks at it) and of the system's own file
/// systems. Empty where the system does not tell. Source: /proc/self/mountinfo, proc(5).
std::vector<Path> mount_points();

}  // namespace glassine::io

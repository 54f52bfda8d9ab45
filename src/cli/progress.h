#pragma once

#include "glassine/journeys/context.h"

#include <memory>

namespace glassine::cli {

/// Progress on standard error: lines that are drawn over on a terminal, plain lines now and then
/// elsewhere.
std::unique_ptr<journeys::Monitor> progress_monitor(bool terminal);

/// A line on standard error that is not drawn over by progress shown at the same time.
void say_beside_progress(const std::string& line);

/// "Reading back /mnt/a  42 %  38.2 of 91.0 GB  182.4 MB/s  4 min 48 s left"
std::string progress_line(const std::string& words, const flow::Progress& progress);

}  // namespace glassine::cli

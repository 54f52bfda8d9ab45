#pragma once

#include "glassine/io/file_system.h"
#include "glassine/shelf/event.h"

#include <span>

/// Each volume's own event log, outside the bags: append-only, one JSON object a line, at the
/// volume's root (`event_log_name`), so that the history survives the studio's computer.
namespace glassine::shelf {

/// Adds the events at the end of the log and returns when they are on the medium. A line that an
/// interrupted writer left torn is ended first and stays as it is. Several programs may append at
/// once: each holds the log's lock while it writes (Error `busy` after 30 s of waiting). Error
/// `read_only` where the volume cannot be written.
void append_to_volume_log(io::FileSystem& files, const io::Path& root,
                          std::span<const Event> events);

/// The whole log; empty when there is none yet.
EventLines read_volume_log(io::FileSystem& files, const io::Path& root);

}  // namespace glassine::shelf

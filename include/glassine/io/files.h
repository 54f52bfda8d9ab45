#pragma once

#include "glassine/io/file_system.h"

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

/// Small things done often, on top of `FileSystem`.
namespace glassine::io {

/// A whole small file. Error `malformed` when it holds more than `limit` bytes.
std::string read_small_file(FileSystem& files, const Path& path, std::uint64_t limit = 64u << 20);

/// Writes a new file, synced and closed; the folder's entry is not synced.
void write_new_file(FileSystem& files, const Path& path, std::string_view content);

/// Writes a file so that a crash leaves the old content or the new, never a mixture: a new file
/// beside it, synced, put in its place in one step, folder synced.
void write_file_durably(FileSystem& files, const Path& path, std::string_view content);

/// Creates the folder and all missing ones above it so that they outlast a power failure. Nothing
/// where there are no folders.
void make_directories(FileSystem& files, const Path& path);

/// Removes a folder with all that is in it; symbolic links are removed, never followed.
void remove_tree(FileSystem& files, const Path& path);

/// One thing met on a walk; `path` is relative to the start, `/` between parts.
struct WalkEntry {
    std::string path;
    FileType type;
    FileInfo info;
};

/// Walks the tree below `root` in name order, folders before what is in them, links and special
/// files reported but never followed or opened. A folder that cannot be read is handed to
/// `on_error` and the walk goes on. `enter` (may be empty) says whether to go into a folder.
void walk(FileSystem& files, const Path& root, const std::function<void(const WalkEntry&)>& visit,
          const std::function<void(const std::string& path, const Error&)>& on_error,
          const std::function<bool(const WalkEntry&)>& enter = {});

}  // namespace glassine::io

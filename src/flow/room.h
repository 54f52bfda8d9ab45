#pragma once

#include "glassine/base/error.h"
#include "glassine/base/text.h"
#include "glassine/io/file_system.h"

#include <cstdint>

#include <fmt/format.h>

namespace glassine::flow {

/// A file system needs room for its own books: a block for each file and a little for the folders.
inline constexpr std::uint64_t room_for_each_file = 4096;
inline constexpr std::uint64_t room_to_spare = 4u << 20;

/// Error `no_space` when the file system of `place` has less than `wanted` bytes for what is handed
/// out into `target`.
inline void check_room_for_pictures(io::FileSystem& files, const io::Path& place,
                                    const io::Path& target, std::uint64_t wanted) {
    const std::uint64_t free = files.space(place).free_bytes;
    if (free >= wanted) return;
    throw Error(Cause::no_space, "hand out into", target.string(),
                fmt::format("the pictures need {}, and {} are free", text::human_bytes(wanted),
                            text::human_bytes(free)),
                "free some space there or name another place; nothing was written");
}

}  // namespace glassine::flow

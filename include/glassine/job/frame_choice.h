#pragma once

#include "glassine/job/frames_csv.h"

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::job {

/// The frames that somebody asks for, in the words in which a client names them: numbers, ranges
/// of numbers, names of frames, names of files.
///
/// "448, 450-462, KRB_0470, holt-0012.jpg": between commas or line breaks; blanks around an item do
/// not count, nor do leading zeros of numbers and the case of names. A file is meant by its own
/// number and name and by those of the frame that it shows, as the photo index knows it.
class FrameChoice {
  public:
    /// Error `usage` for a range that runs backwards and for a list without an item.
    static FrameChoice parse(std::string_view list);

    struct Chosen {
        std::vector<bool> files;           ///< by file
        std::vector<std::string> unknown;  ///< items that mean none of them
    };
    /// `files`: paths in the bag; `rows`: of its photo index, may be empty.
    Chosen choose(std::span<const std::string> files, std::span<const FrameRow> rows) const;

  private:
    struct Item {
        std::string text;  ///< as it was written
        std::string name;  ///< folded; empty for a range
        std::uint64_t first = 1;
        std::uint64_t last = 0;  ///< less than `first`: no number
    };
    struct Handle;
    static Item item(std::string_view text);
    static bool means(const Item& item, const Handle& handle);

    std::vector<Item> items_;
};

/// The frame's number in a picture's file name: the camera's where the name is as the camera gave
/// it, else the last of the longest groups of three to five digits ("holt_2014-06-21_0042" is 42);
/// 0 when there is none.
std::uint64_t frame_number(std::string_view stem);

}  // namespace glassine::job

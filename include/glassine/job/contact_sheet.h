#pragma once

#include "glassine/job/accounting.h"
#include "glassine/job/frames_csv.h"

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// photo-index/contact-sheet.html: the job at a glance, in any browser, in thirty years.
///
/// One file with its style inside, no script, nothing fetched from elsewhere; pictures are relative
/// links to thumbnails/ beside it, and names lead to the pictures in data/. All text from files is
/// escaped.
namespace glassine::job {

inline constexpr std::string_view contact_sheet_file = "photo-index/contact-sheet.html";

/// What stands at the top.
/// Long edge of a thumbnail, in pixels: sharp on today's screens at half its size.
inline constexpr unsigned thumbnail_edge = 320;

struct SheetHead {
    std::string studio;
    std::vector<std::string> clients;
    std::string about;
    std::string date;  ///< "2025-09-06"
    std::string bag_name;
    std::string rights;
};

/// `rows` and `thumbnails` belong to `accounting.frames`, in their order. A thumbnail is its path
/// relative to the sheet (`thumbnail_name`), or empty where there is none: the frame is then marked
/// as one without a picture.
std::string contact_sheet(const SheetHead& head, const Accounting& accounting,
                          std::span<const FrameRow> rows, std::span<const std::string> thumbnails);

/// "thumbnails/0001.jpg" for the first frame, relative to the sheet.
std::string thumbnail_name(std::size_t frame);

/// The files whose small picture can stand for a frame, best first: the original, its proxy, the
/// print, the web picture.
std::vector<std::size_t> thumbnail_sources(const Frame& frame);

}  // namespace glassine::job

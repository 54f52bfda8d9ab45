#pragma once

#include "glassine/digest/digest.h"
#include "glassine/job/accounting.h"
#include "glassine/job/layout.h"

#include <span>
#include <string>
#include <string_view>
#include <vector>

/// photo-index/frames.csv: one line for each frame. docs/photo-index.md describes the format.
namespace glassine::job {

inline constexpr std::string_view frames_csv_file = "photo-index/frames.csv";

/// A rejected raw, which is not in the bag: its proxy stands for it.
struct RejectedRaw {
    std::string path;      ///< in the job folder, as it was when the bag was sealed
    digest::Value sha512;  ///< empty when it could not be read
    bool operator==(const RejectedRaw&) const = default;
};

/// What frames.csv says about one frame. Paths are those in the bag unless said otherwise, as raw
/// bytes.
struct FrameRow {
    std::string frame;  ///< its name: "ABCD0042"
    std::string make;
    std::string model;
    std::string serial;
    std::string captured;  ///< "2025-09-06T14:03:22.130", with an offset where the camera wrote one
    std::string state;     ///< "kept", "rejected", "delivered"
    std::vector<std::string> originals;
    std::vector<std::string> sidecars;
    std::vector<std::string> print;
    std::vector<std::string> web;
    std::vector<std::string> proxies;  ///< those made by Glassine among them
    std::vector<RejectedRaw> rejected_raws;
    std::vector<std::string> broken;  ///< of all these, the files whose picture is not whole
    std::string thumbnail;            ///< its small JPEG in the bag; empty where there is none
    bool operator==(const FrameRow&) const = default;
};

/// The lines for a job's frames, in their order.
std::vector<FrameRow> frame_rows(std::span<const JobFile> files, std::span<const Observed> observed,
                                 const Accounting& accounting);

/// The whole file: RFC 4180 with a header line, UTF-8 without a mark, CRLF.
std::string frames_csv(std::span<const FrameRow> rows);

/// Reads it back, also with LF line ends, columns in another order and columns that are not known.
/// Error `malformed` with the line for anything that is no such file; `path` is what the Error
/// names.
std::vector<FrameRow> parse_frames_csv(std::string_view csv, const std::string& path);

/// "2025-09-06T14:03:22.130+02:00": ISO 8601; milliseconds and offset only where they are known.
std::string in_words(const photo::CaptureTime& captured);

}  // namespace glassine::job

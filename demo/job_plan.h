#pragma once

#include "pictures.h"

#include <string>
#include <vector>

/// The day of an invented wedding: who pressed which shutter when, and what became of each frame.
namespace demo {

/// Sizes in pixels. Small raws and previews keep the job small; prints are large enough for the
/// smallest print in demo/studio.toml.
struct JobSizes {
    int raw_long = 600;
    int raw_short = 400;
    int preview_long = 1600;
    int preview_short = 1067;
    int print_long = 3000;
    int print_short = 2000;
    int web_long = 1600;
    int web_short = 1067;
};

struct Frame {
    Shot shot;
    std::string folder;  ///< the camera's DCF folder: "104SKERR"
    std::string stem;    ///< the camera's DCF name: "KRA_9961"
    std::string title;   ///< the chapter of the day
    bool kept = false;
    int rating = 0;          ///< of kept frames: 3 to 5 stars
    bool has_proxy = false;  ///< of rejected frames: whether the studio made a JPEG of it already
    int sequence = 0;        ///< of kept frames: the number in the delivered names, from 1
    bool printed = false;    ///< of kept frames

    std::string raw_name() const { return stem + ".DNG"; }
    /// "askvik-tenbrook_0007.jpg", the same for the print and the web export of a frame.
    std::string delivered_name() const;
};

struct JobPlan {
    std::vector<Frame> frames;  ///< in the order in which they were taken
    std::string rights;         ///< the notice in every delivered file
};

/// The same seed, the same day. Both bodies' numbers run without a gap over kept and rejected
/// frames; one body's counter passes from 9999 to 0001 and from one folder into the next.
JobPlan plan_job(std::uint64_t seed);

}  // namespace demo

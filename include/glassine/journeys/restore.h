#pragma once

#include "glassine/job/frame_choice.h"
#include "glassine/job/section.h"
#include "glassine/journeys/context.h"
#include "glassine/report/restore_result.h"

#include <cstdint>
#include <optional>
#include <set>
#include <string>
#include <vector>

namespace glassine::journeys {

struct RestoreRequest {
    std::string what;  ///< a bag's folder, an archive of a bag, or words to find the job by
    std::vector<io::Path> from;              ///< other copies of the bag, damaged or not
    std::string to;                          ///< a folder, or a file that ends in .zip
    std::set<job::Section> sections;         ///< empty: print and web
    bool all_sections = false;               ///< everything in the payload
    std::optional<job::FrameChoice> frames;  ///< nothing: all of the sections
    std::uint64_t split = 0;                 ///< bytes of one ZIP file; 0: one for all
    bool gallery = false;                    ///< an index.html with thumbnails goes along
};

/// Hands pictures out of a bag: each is verified against the bag's manifests in the very read that
/// hands it out, and arrives whole or not at all. What is damaged is taken from another copy, then
/// put together again from recovery data; only then it is a finding. A bag without the four
/// sections hands out its whole payload.
///
/// Of a plain archive (see bagit/archive.h) only headers, tag files and what is asked for are read;
/// one that is compressed is read from its beginning, and its recovery data is out of reach.
///
/// What is no path is looked for in the register as `shelf find` does. One job: its best copy on a
/// connected volume is read. Several: they are listed, nothing is handed out and the ending is
/// `attention`. One of which no copy is connected: the result names the volumes, the ending is
/// `failed`. Error `not_found` when nothing answers. Connected copies that the register knows of
/// help with damage like those that are named.
///
/// Nothing at the target is replaced: a file that stands there already and is the same counts as
/// handed out, any other is a finding. The bag is only read. The ending is `attention` when
/// something that was asked for was not handed out. Throws Error for what is wrong before the first
/// byte, and when the target cannot be written.
report::RestoreResult restore(const Context& context, const RestoreRequest& request);

}  // namespace glassine::journeys

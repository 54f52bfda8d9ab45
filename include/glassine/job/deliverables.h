#pragma once

#include "glassine/base/finding.h"
#include "glassine/job/layout.h"
#include "glassine/job/studio.h"
#include "glassine/photo/picture.h"

#include <vector>

namespace glassine::job {

/// Whether a picture file is whole: `image-broken` or `image-not-checkable`, or nothing. Files that
/// neither claim to be pictures nor are any, and empty files (reported by `scan_job`), are not
/// judged.
std::vector<Finding> judge_picture(const JobFile& file, const photo::Picture& picture);

/// What a delivered picture is measured against (photographers' practice: sRGB, no place and a
/// rights notice on the web; enough pixels and a profile for print). Empty for everything else, and
/// for broken pictures.
///
/// Web: `location-in-web-image`, `color-space`, `rights-missing`, `web-too-large`. Print:
/// `print-too-small`, `color-space`.
std::vector<Finding> judge_delivery(const JobFile& file, const photo::Picture& picture,
                                    const Limits& limits);

}  // namespace glassine::job

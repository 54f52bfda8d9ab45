#pragma once

#include "glassine/bagit/check.h"
#include "glassine/photo/picture.h"
#include "glassine/report/audit_page.h"

#include <vector>

namespace glassine::journeys {

/// Adds to each finding of an altered JPEG what was lost of the picture: reads that file once more.
void tell_picture_loss(io::FileSystem& files, const io::Path& bag, bagit::BagReport& report);

/// Damaged and missing pictures of a bag with their sealed small pictures and the part that is
/// lost; the first few dozen. Reads each of them once more.
std::vector<report::DamagedPicture> damaged_pictures(io::FileSystem& files, const io::Path& bag,
                                                     const bagit::BagReport& report);

/// Where on a picture as it is looked at the lines lie that are lost; nothing when none are, or
/// when it cannot be told.
std::optional<report::DamagedPicture::Part> lost_part(const photo::Picture& picture);

}  // namespace glassine::journeys

#pragma once

#include "glassine/photo/examine.h"
#include "photo/budget.h"
#include "photo/decoded.h"
#include "photo/tiff_structure.h"

#include <string>

namespace glassine::photo {

/// What is to be known of a raw: parts inside the file (TIFF directories, boxes, block header),
/// sensor data unpacked by LibRaw, DNG image digest. Fills camera and body of `picture` where
/// metadata left them empty, and its image digests. `tiff` is nullptr for files that do not begin
/// like a TIFF.
Decoded check_raw(Bytes file, const TiffStructure* tiff, Budget* budget, Picture& picture);

/// The smallest preview that fills the thumbnail; developed by LibRaw when there is none.
Raster raw_thumbnail(Bytes file, unsigned edge, Budget* budget);

}  // namespace glassine::photo

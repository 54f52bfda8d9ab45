#pragma once

#include "photo/budget.h"
#include "photo/bytes.h"
#include "photo/decoded.h"
#include "photo/tiff_structure.h"

/// One judgement for each format that is not a JPEG. `edge` is the thumbnail's long edge, 0 for
/// none; `budget` may be null. None of them throws because of what the file holds.
namespace glassine::photo {

/// All strips and tiles inside the file and, where they are packed, unpacked by libtiff to the last
/// one.
Decoded check_tiff(Bytes file, const TiffStructure& structure, unsigned edge, Budget* budget);

/// Every row by libpng, every chunk's CRC, the end chunk.
Decoded check_png(Bytes file, unsigned edge, Budget* budget);

/// Boxes and item locations, then the primary picture by libheif.
Decoded check_heif(Bytes file, unsigned edge, Budget* budget);

}  // namespace glassine::photo

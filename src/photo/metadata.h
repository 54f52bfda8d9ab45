#pragma once

#include "glassine/photo/picture.h"
#include "photo/bytes.h"

namespace glassine::photo {

/// Fills in what a picture file's metadata say (Exif 2.32, XMP, IPTC-IIM, ICC), read by Exiv2:
/// camera, body, time, orientation, original name, rating, place, rights, colour space. Size and
/// verdict are left alone. False where Exiv2 cannot read the file.
///
/// `file` may be cut behind its metadata: for a JPEG everything before the first scan is enough.
bool read_metadata(Bytes file, Picture& picture);

/// The same from a packet of XMP alone (a sidecar).
bool read_packet(Bytes packet, Picture& picture);

}  // namespace glassine::photo

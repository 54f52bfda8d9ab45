#pragma once

#include "photo/bytes.h"

#include <cstdint>
#include <string>
#include <vector>

namespace glassine::photo {

/// One JPEG preview inside a raw; measures as the raw lists them, 0 where it does not.
struct Preview {
    std::string jpeg;
    std::uint32_t width = 0;
    std::uint32_t height = 0;
    std::uint32_t edge() const { return width > height ? width : height; }
};

/// All JPEG previews that Exiv2 finds, largest first, without those of no use to anybody (a few
/// hundred bytes).
std::vector<Preview> embedded_previews(Bytes raw);

/// A JPEG with the capture metadata of the raw (see `make_proxy`); the JPEG as it was when that
/// fails. `rendered`: the picture was developed as sRGB.
std::string with_metadata_of(Bytes raw, std::string jpeg, std::uint32_t width, std::uint32_t height,
                             bool rendered);

}  // namespace glassine::photo

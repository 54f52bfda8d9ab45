#pragma once

#include "glassine/photo/picture.h"
#include "photo/bytes.h"

#include <string>

namespace glassine::photo {

/// What an ICC profile (ICC.1) says it is.
struct IccProfile {
    bool valid = false;  ///< header complete: size as joined, `acsp`
    std::string name;    ///< tag `desc`, UTF-8
    ColorSpace color_space = ColorSpace::other;
};

/// sRGB and Adobe RGB are told by their primaries, where the profile gives them, else by name.
IccProfile read_icc(Bytes profile);

}  // namespace glassine::photo

#pragma once

#include "glassine/photo/picture.h"

#include <optional>
#include <string_view>

namespace glassine::photo {

/// Exif 2.32: "YYYY:MM:DD HH:MM:SS", the digits behind the decimal point of the second, "+HH:MM".
/// Nothing when the time is unknown (blanks) or does not exist; an unreadable fraction or offset
/// counts as missing.
std::optional<CaptureTime> exif_time(std::string_view date_time, std::string_view subseconds,
                                     std::string_view offset);

/// The ISO 8601 form of XMP: "2025-06-14T11:20:35.42+01:00", fraction and offset optional.
std::optional<CaptureTime> xmp_time(std::string_view text);

}  // namespace glassine::photo

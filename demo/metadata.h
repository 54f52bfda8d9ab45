#pragma once

#include "pictures.h"

/// The texts and blocks of bytes that go into picture files beside the pixels.
namespace demo {

std::string exif_date_time(LocalTime time);                ///< "2025:06:14 11:20:35"
std::string exif_subseconds(LocalTime time);               ///< "420"
std::string exif_offset(std::chrono::minutes utc_offset);  ///< "+01:00"

struct Degrees {
    unsigned degrees;
    unsigned minutes;
    unsigned centiseconds;  ///< hundredths of a second of arc
};
Degrees to_degrees(double angle);

struct ExifExtras {
    int width = 0;
    int height = 0;
    Profile profile = Profile::none;
    std::string thumbnail;  ///< a JPEG; empty: none
};

/// A TIFF structure as APP1 and eXIf carry it, without the mark "Exif\0\0".
std::string exif_block(const Shot& shot, const ExifExtras& extras);

/// The body of an APP13 segment with IPTC-IIM 2:116, including "Photoshop 3.0\0".
std::string iptc_segment(const std::string& copyright_notice);

}  // namespace demo

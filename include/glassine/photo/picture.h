#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

/// What a picture file is. Knows nothing of jobs or bags.
namespace glassine::photo {

enum class Kind { jpeg, tiff, png, heif, dng, raw, xmp, other };
std::string_view word(Kind kind);
/// Raw data from a sensor (DNG or a maker's own format).
bool is_raw(Kind kind);

/// Whether a file is the whole picture it claims to be.
enum class Verdict {
    whole,          ///< decoded to its last line, or every part proven to lie inside the file
    broken,         ///< it does not decode to its last line, or parts lie outside the file
    not_checkable,  ///< no library here can tell; `Picture::why` says why
};

/// When the shutter fell, by the camera's own clock (Exif DateTimeOriginal, SubSecTimeOriginal,
/// OffsetTimeOriginal).
struct CaptureTime {
    std::chrono::local_time<std::chrono::milliseconds> local;
    bool has_subseconds = false;
    std::optional<std::chrono::minutes> utc_offset;  ///< often missing
    bool operator==(const CaptureTime&) const = default;
};

enum class ColorSpace { srgb, adobe_rgb, other, unknown };

/// What was learnt of one file from one read of it.
struct Picture {
    Kind kind = Kind::other;

    Verdict verdict = Verdict::not_checkable;
    std::string why;  ///< for broken and not checkable: one sentence
    std::optional<std::uint64_t>
        broken_offset;  ///< byte of the file where it goes wrong, where known
    std::optional<std::uint32_t> lost_from_line;  ///< first picture line that is lost, where known
    bool trailing_data = false;                   ///< bytes after the picture's end: not damage

    std::uint32_t width = 0;  ///< pixels as stored; 0: not known
    std::uint32_t height = 0;
    std::uint16_t orientation = 1;  ///< Exif 1 to 8; 5 to 8 swap width and height

    std::string make;
    std::string model;
    std::string serial;  ///< of the body
    std::optional<CaptureTime> captured;
    std::string
        original_name;  ///< as the camera named it, where metadata kept it
                        ///< (xmpMM:PreservedFileName, crs:RawFileName, DNG OriginalRawFileName)
    int rating = 0;     ///< xmp:Rating; -1 rejected, 0 unrated

    bool has_location = false;  ///< place coordinates, in Exif or XMP
    bool has_rights = false;    ///< Exif Copyright, dc:rights or IIM 2:116
    bool has_profile = false;   ///< an embedded ICC profile
    std::string profile_name;
    ColorSpace color_space = ColorSpace::unknown;

    /// The digest of the image data that a DNG may carry inside (NewRawImageDigest,
    /// RawImageDigest): hex; empty if none.
    std::string image_digest_stored;
    /// Computed from the image data as read, by the same rule; empty when it could not be computed.
    std::string image_digest_computed;

    bool operator==(const Picture&) const = default;
};

}  // namespace glassine::photo

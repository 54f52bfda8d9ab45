#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

/// Real picture files of frames that nobody ever took: drawn scenes, encoded by libjpeg-turbo,
/// libtiff and libpng, with the metadata a camera or a raw developer would have written.
///
/// Everything here is a pure function of its arguments: the same shot and options give the same
/// bytes, in any order and on any thread. Files come back as bytes in a string; whatever cannot be
/// encoded throws std::runtime_error with the library's own words.
namespace demo {

using LocalTime = std::chrono::local_time<std::chrono::milliseconds>;

/// `local_time(2025, 6, 14, 9, 30, 5, 250)` is 2025-06-14 09:30:05.250 by the camera's clock.
LocalTime local_time(int year, unsigned month, unsigned day, int hour = 12, int minute = 0,
                     int second = 0, int millisecond = 0);

/// Degrees, north and east positive.
struct Place {
    double latitude = 0;
    double longitude = 0;
};

/// One press of the shutter. An empty text or an empty optional leaves its tag out of the file.
/// The maker, its cameras and the serial numbers do not exist.
struct Shot {
    std::string make = "Skerrivane";
    std::string model = "Skerrivane S2";
    std::string serial = "40001723";
    LocalTime captured = local_time(2025, 6, 14, 11, 20, 35, 420);
    bool has_time = true;        ///< false: no DateTimeOriginal, as from a scanner
    bool has_subseconds = true;  ///< SubSecTimeOriginal, three digits
    std::optional<std::chrono::minutes> utc_offset = std::chrono::minutes{60};
    std::uint16_t orientation = 1;  ///< Exif 1 to 8; the stored pixels are turned to match
    std::string artist{};
    std::string copyright{};      ///< Exif Copyright (8298)
    std::string original_name{};  ///< the camera's file name: DNG OriginalRawFileName
    std::optional<Place> place{};

    std::uint64_t scene = 1;  ///< what is in front of the lens: the same number, the same view
    double moment = 0;        ///< 0 to 1: where boats and people are within that view
    std::uint64_t grain = 1;  ///< seed of the sensor's noise: makes frames of one scene differ
};

enum class Profile {
    none,
    srgb,
    wide,  ///< the primaries and gamma of Adobe RGB (1998), and its name
};

struct JpegOptions {
    int width = 1600;  ///< stored pixels, 8 to 65500
    int height = 1067;
    int quality = 88;  ///< libjpeg's 1 to 100
    bool progressive = false;
    int restart_rows = 0;       ///< rows of MCUs between restart markers; 0: none
    bool chroma_halved = true;  ///< 4:2:0; false: 4:4:4
    Profile profile = Profile::none;
    bool exif = true;
    bool thumbnail = true;         ///< a whole JPEG of 160 pixels inside Exif
    std::string xmp{};             ///< an XMP packet (see `xmp_packet`); empty: none
    std::string iptc_copyright{};  ///< IPTC-IIM 2:116 in an APP13 segment; empty: none
};

std::string jpeg(const Shot& shot, const JpegOptions& options = {});

struct DngOptions {
    int width = 600;  ///< of the sensor's Bayer data (RGGB), 16 bits each, black 256, white 4095
    int height = 400;
    bool tiled = false;        ///< raw data in 128 x 128 tiles instead of strips
    int preview_width = 1600;  ///< embedded JPEG; 0: none
    int preview_height = 1067;
    int preview_quality = 85;
    bool camera_serial = true;     ///< DNG CameraSerialNumber beside Exif BodySerialNumber
    bool image_digest = true;      ///< RawImageDigest: MD5 of the raw data in row order
    bool new_image_digest = true;  ///< NewRawImageDigest: MD5 of the MD5s of 256 x 256 tiles
    std::string xmp{};
};

/// A DNG: IFD0 a small RGB preview (NewSubFileType 1), SubIFD 1 the raw (0), SubIFD 2 the JPEG
/// preview (1), one strip of Compression 7 that is a JPEG of its own. LibRaw unpacks and develops
/// it and hands out the JPEG; Exiv2 lists both previews, each wrapped as image/tiff.
std::string dng(const Shot& shot, const DngOptions& options = {});

enum class TiffPacking { none, lzw, deflate };

struct TiffOptions {
    int width = 600;
    int height = 400;
    TiffPacking packing = TiffPacking::none;
    bool tiled = false;
    Profile profile = Profile::srgb;
    std::string xmp{};
};

/// 8 bits RGB, strips of 16 rows or tiles of 128 x 128.
std::string tiff(const Shot& shot, const TiffOptions& options = {});

struct PngOptions {
    int width = 600;
    int height = 400;
    bool interlaced = false;
    Profile profile = Profile::srgb;
    bool exif = true;  ///< an eXIf chunk
};

std::string png(const Shot& shot, const PngOptions& options = {});

struct HeifOptions {
    int width = 600;
    int height = 400;
    int quality = 60;
    Profile profile = Profile::srgb;
    bool exif = true;
    std::string xmp{};
};

/// HEVC in HEIF, as telephones write it; upright pixels whatever the orientation says, since HEIF
/// turns pictures by its own boxes.
std::string heif(const Shot& shot, const HeifOptions& options = {});

/// What a raw developer writes beside a raw or into an export. Empty fields are left out.
struct XmpFields {
    std::optional<int> rating{};        ///< xmp:Rating, -1 to 5
    std::string label{};                ///< xmp:Label
    std::string creator{};              ///< dc:creator
    std::string rights{};               ///< dc:rights
    std::string title{};                ///< dc:title
    std::string preserved_file_name{};  ///< xmpMM:PreservedFileName
    std::string raw_file_name{};        ///< crs:RawFileName
    std::optional<Place> place{};       ///< exif:GPSLatitude and exif:GPSLongitude
};

/// A whole XMP packet, well-formed whatever the fields hold. Also the text of a sidecar.
std::string xmp_packet(const XmpFields& fields);

/// An ICC profile, the same bytes every time; empty for Profile::none.
std::string icc_profile(Profile profile);

}  // namespace demo

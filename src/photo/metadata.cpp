#include "photo/metadata.h"

#include "photo/capture_time.h"
#include "photo/exiv2_image.h"
#include "photo/icc.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include <exiv2/easyaccess.hpp>

namespace glassine::photo {

namespace {

/// The first of several places that is not empty.
template <class Data, std::size_t n>
std::string first_of(const Data& data, const std::array<const char*, n>& keys) {
    for (const char* key : keys)
        if (std::string found = value_of(data, key); !found.empty()) return found;
    return {};
}

/// A name without the folders that some programs leave in it.
std::string last_part(const std::string& path) {
    return path.substr(path.find_last_of("/\\") + 1);
}

std::string serial_number(const Exiv2::ExifData& exif, const Exiv2::XmpData& xmp) {
    std::string serial =
        first_of(exif, std::array{"Exif.Photo.BodySerialNumber", "Exif.Image.CameraSerialNumber"});
    if (!serial.empty()) return serial;
    // Some makers write it in their own notes only (Exif 2.32, tag A431).
    const auto own = Exiv2::serialNumber(exif);
    if (own != exif.end() && own->size() < 200) serial = own->toString();
    const bool plain = !serial.empty() && std::ranges::all_of(serial, [](unsigned char c) {
        return c >= 0x20 && c < 0x7F;
    });
    if (plain) return serial;
    return first_of(xmp, std::array{"Xmp.aux.SerialNumber", "Xmp.exifEX.BodySerialNumber"});
}

std::optional<CaptureTime> capture_time(const Exiv2::ExifData& exif, const Exiv2::XmpData& xmp) {
    const std::string fraction = value_of(exif, "Exif.Photo.SubSecTimeOriginal");
    const std::string offset = value_of(exif, "Exif.Photo.OffsetTimeOriginal");
    for (const char* key : {"Exif.Photo.DateTimeOriginal", "Exif.Image.DateTimeOriginal"})
        if (auto time = exif_time(value_of(exif, key), fraction, offset)) return time;
    for (const char* key : {"Xmp.exif.DateTimeOriginal", "Xmp.photoshop.DateCreated"})
        if (auto time = xmp_time(value_of(xmp, key))) return time;
    return exif_time(value_of(exif, "Exif.Photo.DateTimeDigitized"),
                     value_of(exif, "Exif.Photo.SubSecTimeDigitized"),
                     value_of(exif, "Exif.Photo.OffsetTimeDigitized"));
}

std::uint16_t orientation(const Exiv2::ExifData& exif, const Exiv2::XmpData& xmp) {
    const std::string value = value_of(exif, "Exif.Image.Orientation");
    const std::string text = value.empty() ? value_of(xmp, "Xmp.tiff.Orientation") : value;
    return text.size() == 1 && text[0] >= '1' && text[0] <= '8'
               ? static_cast<std::uint16_t>(text[0] - '0')
               : std::uint16_t{1};
}

/// xmp:Rating may be written as a real; -1 is rejected, 1 to 5 are stars.
int rating(const Exiv2::ExifData& exif, const Exiv2::XmpData& xmp) {
    std::string text = value_of(xmp, "Xmp.xmp.Rating");
    if (text.empty()) text = value_of(exif, "Exif.Image.Rating");
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc() || end == text.data() || !std::isfinite(value)) return 0;
    return static_cast<int>(std::lround(std::clamp(value, -1.0, 5.0)));
}

/// A coordinate that holds numbers: cameras without a fix write 0/0.
bool has_coordinate(const Exiv2::ExifData& exif, const char* key) {
    const auto found = exif.findKey(Exiv2::ExifKey(key));
    if (found == exif.end() || found->count() < 1 || found->count() > 3) return false;
    return found->toRational(0).second != 0;
}

bool has_location(const Exiv2::ExifData& exif, const Exiv2::XmpData& xmp) {
    if (has_coordinate(exif, "Exif.GPSInfo.GPSLatitude") &&
        has_coordinate(exif, "Exif.GPSInfo.GPSLongitude"))
        return true;
    return !value_of(xmp, "Xmp.exif.GPSLatitude").empty() &&
           !value_of(xmp, "Xmp.exif.GPSLongitude").empty();
}

/// In the order of the documents: embedded profile; Exif ColorSpace 1; FFFF with Interoperability
/// index R03 (DCF 2.0). Common practice, no source.
void colour_space(Exiv2::Image& image, Picture& picture) {
    const Exiv2::DataBuf* profile = image.iccProfileDefined() ? image.iccProfile() : nullptr;
    if (profile != nullptr && profile->size_ > 0) {
        const auto size = static_cast<std::size_t>(profile->size_);
        const IccProfile icc = read_icc(std::as_bytes(std::span(profile->pData_, size)));
        picture.has_profile = icc.valid;
        if (icc.valid) {
            picture.profile_name = icc.name;
            picture.color_space = icc.color_space;
            return;
        }
    }
    const std::string space = value_of(image.exifData(), "Exif.Photo.ColorSpace");
    const std::string index = value_of(image.exifData(), "Exif.Iop.InteroperabilityIndex");
    if (space == "1") picture.color_space = ColorSpace::srgb;
    if (space == "65535" && index == "R03") picture.color_space = ColorSpace::adobe_rgb;
}

void describe(const Exiv2::ExifData& exif, const Exiv2::XmpData& xmp, const Exiv2::IptcData& iptc,
              Picture& picture) {
    picture.make = value_of(exif, "Exif.Image.Make");
    if (picture.make.empty()) picture.make = value_of(xmp, "Xmp.tiff.Make");
    picture.model = value_of(exif, "Exif.Image.Model");
    if (picture.model.empty()) picture.model = value_of(xmp, "Xmp.tiff.Model");
    if (picture.model.empty()) picture.model = value_of(exif, "Exif.Image.UniqueCameraModel");
    picture.serial = serial_number(exif, xmp);
    picture.captured = capture_time(exif, xmp);
    picture.orientation = orientation(exif, xmp);
    picture.original_name =
        last_part(first_of(xmp, std::array{"Xmp.xmpMM.PreservedFileName", "Xmp.crs.RawFileName"}));
    if (picture.original_name.empty())
        picture.original_name = last_part(value_of(exif, "Exif.Image.OriginalRawFileName"));
    picture.rating = rating(exif, xmp);
    picture.has_location = has_location(exif, xmp);
    picture.has_rights = !value_of(exif, "Exif.Image.Copyright").empty() ||
                         !value_of(xmp, "Xmp.dc.rights").empty() ||
                         !value_of(iptc, "Iptc.Application2.Copyright").empty();
}

}  // namespace

bool read_metadata(Bytes file, Picture& picture) {
    const auto lock = lock_exiv2();
    const auto image = open_metadata(file);
    if (!image) return false;
    try {
        describe(image->exifData(), image->xmpData(), image->iptcData(), picture);
        colour_space(*image, picture);
    } catch (const std::exception&) {
        // A value that cannot be turned into text: what was read before it stays.
        return false;
    }
    return true;
}

bool read_packet(Bytes packet, Picture& picture) {
    const auto lock = lock_exiv2();
    try {
        Exiv2::XmpData xmp;
        if (Exiv2::XmpParser::decode(xmp, std::string(as_text(packet))) != 0) return false;
        describe({}, xmp, {}, picture);
    } catch (const std::exception&) {
        return false;
    }
    return true;
}

}  // namespace glassine::photo

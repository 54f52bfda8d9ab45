#include "photo/previews.h"

#include "photo/exiv2_image.h"
#include "photo/tiff_structure.h"

#include <algorithm>
#include <array>

#include <exiv2/preview.hpp>

namespace glassine::photo {

namespace {

constexpr std::size_t smallest_jpeg = 400;

/// What a proxy keeps of the raw's Exif: who, when, with what and how; no makers' notes (they may
/// hold absolute offsets) and nothing that describes the raw's own data.
constexpr std::array kept_exif{
    "Exif.Image.Make",
    "Exif.Image.Model",
    "Exif.Image.Orientation",
    "Exif.Image.DateTime",
    "Exif.Image.Artist",
    "Exif.Image.Copyright",
    "Exif.Image.CameraSerialNumber",
    "Exif.Image.UniqueCameraModel",
    "Exif.Image.OriginalRawFileName",
    "Exif.Image.DateTimeOriginal",
    "Exif.Photo.DateTimeOriginal",
    "Exif.Photo.DateTimeDigitized",
    "Exif.Photo.OffsetTime",
    "Exif.Photo.OffsetTimeOriginal",
    "Exif.Photo.OffsetTimeDigitized",
    "Exif.Photo.SubSecTime",
    "Exif.Photo.SubSecTimeOriginal",
    "Exif.Photo.SubSecTimeDigitized",
    "Exif.Photo.ExposureTime",
    "Exif.Photo.FNumber",
    "Exif.Photo.ExposureProgram",
    "Exif.Photo.ISOSpeedRatings",
    "Exif.Photo.ExposureBiasValue",
    "Exif.Photo.MeteringMode",
    "Exif.Photo.Flash",
    "Exif.Photo.FocalLength",
    "Exif.Photo.FocalLengthIn35mmFilm",
    "Exif.Photo.ImageUniqueID",
    "Exif.Photo.CameraOwnerName",
    "Exif.Photo.BodySerialNumber",
    "Exif.Photo.LensSpecification",
    "Exif.Photo.LensMake",
    "Exif.Photo.LensModel",
    "Exif.Photo.LensSerialNumber",
};

constexpr std::array kept_xmp{
    "Xmp.xmp.Rating",        "Xmp.xmp.Label",       "Xmp.dc.rights",
    "Xmp.dc.creator",        "Xmp.dc.title",        "Xmp.exif.GPSLatitude",
    "Xmp.exif.GPSLongitude", "Xmp.crs.RawFileName", "Xmp.xmpMM.PreservedFileName",
};

bool is_jpeg(const Exiv2::PreviewProperties& properties) {
    return properties.mimeType_ == "image/jpeg" && properties.size_ >= smallest_jpeg;
}

void copy_exif(const Exiv2::ExifData& from, Exiv2::ExifData& to) {
    for (const char* name : kept_exif) {
        const auto found = from.findKey(Exiv2::ExifKey(name));
        if (found == from.end()) continue;
        const auto old =
            to.findKey(found->key() == name ? Exiv2::ExifKey(name) : Exiv2::ExifKey(found->key()));
        if (old != to.end()) to.erase(old);
        to.add(*found);
    }
    for (const Exiv2::Exifdatum& datum : from)
        if (datum.groupName() == "GPSInfo" && to.findKey(Exiv2::ExifKey(datum.key())) == to.end())
            to.add(datum);
    // The body's number stands where every reader looks for it, also when the maker hides it in his
    // notes.
    const auto serial = Exiv2::ExifKey("Exif.Photo.BodySerialNumber");
    if (to.findKey(serial) != to.end()) return;
    const auto own = Exiv2::serialNumber(from);
    if (own != from.end() && own->size() < 200) to[serial.key()] = own->toString();
}

void write_metadata(const Exiv2::Image& raw, Exiv2::Image& jpeg, std::uint32_t width,
                    std::uint32_t height, bool rendered) {
    Exiv2::ExifData exif = jpeg.exifData();
    copy_exif(raw.exifData(), exif);
    exif["Exif.Photo.PixelXDimension"] = width;
    exif["Exif.Photo.PixelYDimension"] = height;
    if (rendered) exif["Exif.Photo.ColorSpace"] = std::uint16_t{1};
    Exiv2::XmpData xmp = jpeg.xmpData();
    for (const char* name : kept_xmp) {
        const auto found = raw.xmpData().findKey(Exiv2::XmpKey(name));
        if (found != raw.xmpData().end() && xmp.findKey(Exiv2::XmpKey(name)) == xmp.end())
            xmp.add(*found);
    }
    jpeg.setExifData(exif);
    jpeg.setXmpData(xmp);
    jpeg.writeMetadata();
}

}  // namespace

namespace {

/// Previews that stand in TIFF directories as JPEGs of their own: a 513/514 pair, or the only strip
/// of a picture with Compression 6 or 7 (Exiv2 hands the latter, which DNG asks for, out wrapped as
/// TIFF).
void add_listed(Bytes raw, std::vector<Preview>& out) {
    const TiffStructure tiff(raw);
    for (const TiffDirectory& directory : tiff.directories()) {
        const auto photometric = tiff.number_or(directory, tag::photometric, 0);
        const auto compression = tiff.number_or(directory, tag::compression, 0);
        const bool sensor = photometric == 32803 || photometric == 34892;
        const auto chunks = tiff.chunks(directory);
        const bool pair = tiff.has(directory, tag::jpeg_offset);
        if (sensor || chunks.size() != 1 || (!pair && compression != 6 && compression != 7))
            continue;
        if (!inside(raw.size(), chunks[0].offset, chunks[0].length)) continue;
        const Bytes bytes = raw.subspan(chunks[0].offset, chunks[0].length);
        if (bytes.size() < smallest_jpeg || !as_text(bytes).starts_with("\xff\xd8\xff")) continue;
        out.push_back({std::string(as_text(bytes)),
                       static_cast<std::uint32_t>(tiff.number_or(directory, tag::width, 0)),
                       static_cast<std::uint32_t>(tiff.number_or(directory, tag::length, 0))});
    }
}

/// Those that Exiv2 finds, also in makers' notes.
void add_found(Bytes raw, std::vector<Preview>& out) {
    const auto lock = lock_exiv2();
    const auto image = open_metadata(raw);
    if (!image) return;
    try {
        const Exiv2::PreviewManager manager(*image);
        for (const Exiv2::PreviewProperties& properties : manager.getPreviewProperties()) {
            if (!is_jpeg(properties)) continue;
            const Exiv2::PreviewImage preview = manager.getPreviewImage(properties);
            const auto* data = reinterpret_cast<const char*>(preview.pData());
            if (data == nullptr || preview.size() < smallest_jpeg) continue;
            out.push_back(
                {std::string(data, preview.size()), properties.width_, properties.height_});
        }
    } catch (const std::exception&) {
        // What was found before Exiv2 stumbled is as good as it is.
    }
}

}  // namespace

std::vector<Preview> embedded_previews(Bytes raw) {
    std::vector<Preview> out;
    add_listed(raw, out);
    add_found(raw, out);
    std::ranges::stable_sort(
        out, [](const Preview& a, const Preview& b) { return a.jpeg.size() > b.jpeg.size(); });
    const auto same = std::unique(out.begin(), out.end(), [](const Preview& a, const Preview& b) {
        return a.jpeg == b.jpeg;
    });
    out.erase(same, out.end());
    return out;
}

std::string with_metadata_of(Bytes raw, std::string jpeg, std::uint32_t width, std::uint32_t height,
                             bool rendered) {
    const auto lock = lock_exiv2();
    const auto from = open_metadata(raw);
    const auto to = open_metadata(as_bytes(jpeg));
    if (!from || !to) return jpeg;
    try {
        write_metadata(*from, *to, width, height, rendered);
        Exiv2::BasicIo& io = to->io();
        if (io.open() != 0) return jpeg;
        const Exiv2::DataBuf written = io.read(static_cast<long>(io.size()));
        return {reinterpret_cast<const char*>(written.pData_),
                static_cast<std::size_t>(written.size_)};
    } catch (const std::exception&) {
        return jpeg;
    }
}

}  // namespace glassine::photo

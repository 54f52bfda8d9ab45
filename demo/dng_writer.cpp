#include "jpeg_writer.h"
#include "metadata.h"
#include "pictures.h"
#include "scene.h"
#include "tiff_file.h"

#include <algorithm>
#include <array>
#include <stdexcept>
#include <vector>

#include <openssl/evp.h>

namespace demo {

namespace {

using Digest = std::array<std::uint8_t, 16>;

constexpr int kRowsPerStrip = 16;
constexpr int kTile = 128;
constexpr int kDigestTile = 256;
constexpr std::uint32_t kRawImageDigest = 50972;
constexpr std::uint32_t kNewRawImageDigest = 51111;

struct Sensor {
    int width;
    int height;
    std::vector<std::uint16_t> values;

    const std::uint16_t* at(int x, int y) const {
        return values.data() + static_cast<std::ptrdiff_t>(y) * width + x;
    }
};

class Md5 {
  public:
    Md5() : context_(EVP_MD_CTX_new()) {
        if (context_ == nullptr || EVP_DigestInit_ex(context_, EVP_md5(), nullptr) != 1) {
            throw std::runtime_error("OpenSSL offers no MD5");
        }
    }
    Md5(const Md5&) = delete;
    Md5& operator=(const Md5&) = delete;
    ~Md5() { EVP_MD_CTX_free(context_); }

    void add(const void* data, std::size_t size) { EVP_DigestUpdate(context_, data, size); }
    Digest finish() {
        Digest digest{};
        EVP_DigestFinal_ex(context_, digest.data(), nullptr);
        return digest;
    }

  private:
    EVP_MD_CTX* context_;
};

/// DNG 1.4 specification, RawImageDigest: all pixels in row order, 16 bits each, little endian.
Digest image_digest(const Sensor& sensor) {
    Md5 md5;
    md5.add(sensor.values.data(), sensor.values.size() * 2);
    return md5.finish();
}

/// NewRawImageDigest, which the DNG specification leaves to the DNG SDK
/// (dng_find_new_raw_image_digest_task): the MD5 of the MD5s of 256 x 256 tiles in row order, tiles
/// at the edges cut to the picture.
Digest new_image_digest(const Sensor& sensor) {
    Md5 all;
    for (int top = 0; top < sensor.height; top += kDigestTile) {
        for (int left = 0; left < sensor.width; left += kDigestTile) {
            auto columns = static_cast<std::size_t>(std::min(kDigestTile, sensor.width - left));
            Md5 tile;
            for (int y = top; y < std::min(top + kDigestTile, sensor.height); ++y) {
                tile.add(sensor.at(left, y), columns * 2);
            }
            Digest digest = tile.finish();
            all.add(digest.data(), digest.size());
        }
    }
    return all.finish();
}

std::uint64_t write_exif(TiffFile& file, const Shot& shot) {
    TIFFCreateEXIFDirectory(file.handle());
    file.set(EXIFTAG_EXIFVERSION, "0232");
    if (shot.has_time) {
        file.set(EXIFTAG_DATETIMEORIGINAL, exif_date_time(shot.captured));
        file.set(EXIFTAG_DATETIMEDIGITIZED, exif_date_time(shot.captured));
        if (shot.has_subseconds) {
            file.set(EXIFTAG_SUBSECTIMEORIGINAL, exif_subseconds(shot.captured));
        }
        if (shot.utc_offset) {
            file.set(EXIFTAG_OFFSETTIMEORIGINAL, exif_offset(*shot.utc_offset));
        }
    }
    file.set(EXIFTAG_BODYSERIALNUMBER, shot.serial);
    return file.end_custom_directory();
}

std::uint64_t write_place(TiffFile& file, const Place& place) {
    TIFFCreateGPSDirectory(file.handle());
    auto angle = [](double degrees) {
        Degrees d = to_degrees(degrees);
        return std::array<double, 3>{double(d.degrees), double(d.minutes), d.centiseconds / 100.0};
    };
    const std::array<std::uint8_t, 4> version{2, 3, 0, 0};
    auto latitude = angle(place.latitude);
    auto longitude = angle(place.longitude);
    file.set(GPSTAG_VERSIONID, version.data());
    file.set(GPSTAG_LATITUDEREF, place.latitude < 0 ? "S" : "N");
    file.set(GPSTAG_LATITUDE, latitude.data());
    file.set(GPSTAG_LONGITUDEREF, place.longitude < 0 ? "W" : "E");
    file.set(GPSTAG_LONGITUDE, longitude.data());
    return file.end_custom_directory();
}

void shape(TiffFile& file, int width, int height, int samples, int bits, int kind) {
    file.set(TIFFTAG_SUBFILETYPE, kind);
    file.set(TIFFTAG_IMAGEWIDTH, width);
    file.set(TIFFTAG_IMAGELENGTH, height);
    file.set(TIFFTAG_SAMPLESPERPIXEL, samples);
    file.set(TIFFTAG_BITSPERSAMPLE, bits);
    file.set(TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
}

void describe_camera(TiffFile& file, const Shot& shot, const DngOptions& options) {
    const std::array<std::uint8_t, 4> version{1, 4, 0, 0};
    const std::array<std::uint8_t, 4> backward{1, 1, 0, 0};
    // XYZ to linear sRGB (IEC 61966-2-1): this camera sees as a screen shines.
    const std::array<float, 9> matrix{3.2406F, -1.5372F, -.4986F, -.9689F, 1.8758F,
                                      .0415F,  .0557F,   -.2040F, 1.0570F};
    const std::array<float, 3> neutral{1, 1, 1};
    file.set(TIFFTAG_MAKE, shot.make);
    file.set(TIFFTAG_MODEL, shot.model);
    file.set(TIFFTAG_ORIENTATION, static_cast<int>(shot.orientation));
    file.set(TIFFTAG_ARTIST, shot.artist);
    file.set(TIFFTAG_COPYRIGHT, shot.copyright);
    if (shot.has_time) file.set(TIFFTAG_DATETIME, exif_date_time(shot.captured));
    file.set(TIFFTAG_DNGVERSION, version.data());
    file.set(TIFFTAG_DNGBACKWARDVERSION, backward.data());
    file.set(TIFFTAG_UNIQUECAMERAMODEL, shot.model);
    if (options.camera_serial) file.set(TIFFTAG_CAMERASERIALNUMBER, shot.serial);
    if (!shot.original_name.empty()) {
        file.set(TIFFTAG_ORIGINALRAWFILENAME, static_cast<int>(shot.original_name.size()),
                 shot.original_name.data());
    }
    file.set(TIFFTAG_COLORMATRIX1, static_cast<int>(matrix.size()), matrix.data());
    file.set(TIFFTAG_ASSHOTNEUTRAL, static_cast<int>(neutral.size()), neutral.data());
    file.set(TIFFTAG_CALIBRATIONILLUMINANT1, 21);  // D65
    if (!options.xmp.empty()) {
        file.set(TIFFTAG_XMLPACKET, static_cast<std::uint32_t>(options.xmp.size()),
                 options.xmp.data());
    }
}

void add_digests(TiffFile& file, const Sensor& sensor, const DngOptions& options) {
    file.know_bytes(kRawImageDigest, 16, "RawImageDigest");
    file.know_bytes(kNewRawImageDigest, 16, "NewRawImageDigest");
    if (options.image_digest) file.set(kRawImageDigest, image_digest(sensor).data());
    if (options.new_image_digest) file.set(kNewRawImageDigest, new_image_digest(sensor).data());
}

void write_small_preview(TiffFile& file, const Shot& shot, int width, int height) {
    Canvas small = draw_stored(shot, width, height);
    file.set(TIFFTAG_COMPRESSION, COMPRESSION_NONE);
    file.set(TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_RGB);
    file.set(TIFFTAG_ROWSPERSTRIP, height);
    file.write_strip(0, small.row(0), static_cast<std::size_t>(width * height) * 3);
    file.end_directory();
}

void write_raw_tiles(TiffFile& file, const Sensor& sensor) {
    file.set(TIFFTAG_TILEWIDTH, kTile);
    file.set(TIFFTAG_TILELENGTH, kTile);
    std::vector<std::uint16_t> tile(static_cast<std::size_t>(kTile) * kTile);
    std::uint32_t index = 0;
    for (int top = 0; top < sensor.height; top += kTile) {
        for (int left = 0; left < sensor.width; left += kTile) {
            std::fill(tile.begin(), tile.end(), std::uint16_t{0});
            for (int y = top; y < std::min(top + kTile, sensor.height); ++y) {
                std::copy_n(sensor.at(left, y), std::min(kTile, sensor.width - left),
                            tile.begin() + static_cast<std::ptrdiff_t>(y - top) * kTile);
            }
            file.write_tile(index++, tile.data(), tile.size() * 2);
        }
    }
}

void write_raw_strips(TiffFile& file, const Sensor& sensor) {
    file.set(TIFFTAG_ROWSPERSTRIP, kRowsPerStrip);
    for (int y = 0; y < sensor.height; y += kRowsPerStrip) {
        auto values = static_cast<std::size_t>(std::min(kRowsPerStrip, sensor.height - y)) *
                      static_cast<std::size_t>(sensor.width);
        file.write_strip(static_cast<std::uint32_t>(y / kRowsPerStrip), sensor.at(0, y),
                         values * 2);
    }
}

void write_raw(TiffFile& file, const Sensor& sensor, bool tiled) {
    const std::array<std::uint16_t, 2> two_by_two{2, 2};
    const std::array<std::uint8_t, 4> rggb{0, 1, 1, 2};
    const std::array<std::uint8_t, 3> planes{0, 1, 2};
    const std::array<std::uint16_t, 2> one_by_one{1, 1};
    const float black = kSensorBlack;
    const std::uint32_t white = kSensorWhite;
    const std::array<float, 2> origin{0, 0};
    const std::array<float, 2> size{static_cast<float>(sensor.width),
                                    static_cast<float>(sensor.height)};
    shape(file, sensor.width, sensor.height, 1, 16, 0);
    file.set(TIFFTAG_COMPRESSION, COMPRESSION_NONE);
    file.set(TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_CFA);
    file.set(TIFFTAG_CFAREPEATPATTERNDIM, two_by_two.data());
    file.set(TIFFTAG_CFAPATTERN, 4, rggb.data());
    file.set(TIFFTAG_CFAPLANECOLOR, 3, planes.data());
    file.set(TIFFTAG_CFALAYOUT, 1);
    file.set(TIFFTAG_BLACKLEVELREPEATDIM, one_by_one.data());
    file.set(TIFFTAG_BLACKLEVEL, 1, &black);
    file.set(TIFFTAG_WHITELEVEL, 1, &white);
    file.set(TIFFTAG_DEFAULTCROPORIGIN, origin.data());
    file.set(TIFFTAG_DEFAULTCROPSIZE, size.data());
    if (tiled) {
        write_raw_tiles(file, sensor);
    } else {
        write_raw_strips(file, sensor);
    }
    file.end_directory();
}

void write_jpeg_preview(TiffFile& file, const Shot& shot, const DngOptions& options) {
    JpegOptions jpeg;
    jpeg.quality = options.preview_quality;
    Canvas canvas = draw_stored(shot, options.preview_width, options.preview_height);
    std::string bytes = encode_jpeg(canvas, jpeg, {});
    shape(file, canvas.width(), canvas.height(), 3, 8, FILETYPE_REDUCEDIMAGE);
    file.set(TIFFTAG_COMPRESSION, COMPRESSION_JPEG);
    file.set(TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_YCBCR);
    file.set(TIFFTAG_YCBCRSUBSAMPLING, 2, 2);
    file.set(TIFFTAG_ROWSPERSTRIP, canvas.height());
    // The strip is a JPEG with its own tables; libtiff would write an empty table beside it.
    TIFFUnsetField(file.handle(), TIFFTAG_JPEGTABLES);
    file.write_raw_strip(0, bytes.data(), bytes.size());
    file.end_directory();
}

}  // namespace

std::string dng(const Shot& shot, const DngOptions& options) {
    Sensor sensor{options.width, options.height,
                  expose_sensor(shot, options.width, options.height)};
    bool has_preview = options.preview_width > 0 && options.preview_height > 0;
    const std::array<std::uint64_t, 2> unknown_yet{0, 0};

    TiffFile file;
    std::uint64_t exif = write_exif(file, shot);
    std::uint64_t place = shot.place ? write_place(file, *shot.place) : 0;
    TIFFCreateDirectory(file.handle());

    int small_width = 160;
    int small_height = std::max(1, small_width * options.height / std::max(1, options.width));
    shape(file, small_width, small_height, 3, 8, FILETYPE_REDUCEDIMAGE);
    describe_camera(file, shot, options);
    add_digests(file, sensor, options);
    file.set(TIFFTAG_EXIFIFD, exif);
    if (place != 0) file.set(TIFFTAG_GPSIFD, place);
    file.set(TIFFTAG_SUBIFD, has_preview ? 2 : 1, unknown_yet.data());
    write_small_preview(file, shot, small_width, small_height);

    write_raw(file, sensor, options.tiled);
    if (has_preview) write_jpeg_preview(file, shot, options);
    return file.finish();
}

}  // namespace demo

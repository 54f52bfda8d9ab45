#include "metadata.h"
#include "pictures.h"
#include "scene.h"
#include "tiff_file.h"

#include <algorithm>
#include <vector>

namespace demo {

namespace {

constexpr int kRowsPerStrip = 16;
constexpr int kTile = 128;

std::uint16_t number_of(TiffPacking packing) {
    switch (packing) {
        case TiffPacking::lzw:
            return COMPRESSION_LZW;
        case TiffPacking::deflate:
            return COMPRESSION_ADOBE_DEFLATE;
        case TiffPacking::none:
            break;
    }
    return COMPRESSION_NONE;
}

void describe(TiffFile& file, const Shot& shot, const TiffOptions& options) {
    file.set(TIFFTAG_MAKE, shot.make);
    file.set(TIFFTAG_MODEL, shot.model);
    file.set(TIFFTAG_ARTIST, shot.artist);
    file.set(TIFFTAG_COPYRIGHT, shot.copyright);
    file.set(TIFFTAG_ORIENTATION, static_cast<int>(shot.orientation));
    if (shot.has_time) file.set(TIFFTAG_DATETIME, exif_date_time(shot.captured));
    std::string icc = icc_profile(options.profile);
    if (!icc.empty())
        file.set(TIFFTAG_ICCPROFILE, static_cast<std::uint32_t>(icc.size()), icc.data());
    if (!options.xmp.empty()) {
        file.set(TIFFTAG_XMLPACKET, static_cast<std::uint32_t>(options.xmp.size()),
                 options.xmp.data());
    }
}

void write_strips(TiffFile& file, const Canvas& canvas) {
    auto bytes_a_row = static_cast<std::size_t>(canvas.width()) * 3;
    for (int y = 0; y < canvas.height(); y += kRowsPerStrip) {
        int rows = std::min(kRowsPerStrip, canvas.height() - y);
        file.write_strip(static_cast<std::uint32_t>(y / kRowsPerStrip), canvas.row(y),
                         bytes_a_row * static_cast<std::size_t>(rows));
    }
}

void write_tiles(TiffFile& file, const Canvas& canvas) {
    std::vector<std::uint8_t> tile(static_cast<std::size_t>(kTile) * kTile * 3);
    std::uint32_t index = 0;
    for (int top = 0; top < canvas.height(); top += kTile) {
        for (int left = 0; left < canvas.width(); left += kTile) {
            std::fill(tile.begin(), tile.end(), std::uint8_t{0});
            int columns = std::min(kTile, canvas.width() - left);
            for (int y = top; y < std::min(top + kTile, canvas.height()); ++y) {
                std::copy_n(canvas.pixel(left, y), columns * 3,
                            tile.begin() + static_cast<std::ptrdiff_t>(y - top) * kTile * 3);
            }
            file.write_tile(index++, tile.data(), tile.size());
        }
    }
}

}  // namespace

std::string tiff(const Shot& shot, const TiffOptions& options) {
    Canvas canvas = draw_stored(shot, options.width, options.height);
    TiffFile file;
    file.set(TIFFTAG_IMAGEWIDTH, canvas.width());
    file.set(TIFFTAG_IMAGELENGTH, canvas.height());
    file.set(TIFFTAG_BITSPERSAMPLE, 8);
    file.set(TIFFTAG_SAMPLESPERPIXEL, 3);
    file.set(TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_RGB);
    file.set(TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
    file.set(TIFFTAG_COMPRESSION, number_of(options.packing));
    describe(file, shot, options);
    if (options.tiled) {
        file.set(TIFFTAG_TILEWIDTH, kTile);
        file.set(TIFFTAG_TILELENGTH, kTile);
        write_tiles(file, canvas);
    } else {
        file.set(TIFFTAG_ROWSPERSTRIP, kRowsPerStrip);
        write_strips(file, canvas);
    }
    file.end_directory();
    return file.finish();
}

}  // namespace demo

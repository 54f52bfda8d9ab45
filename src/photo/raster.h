#pragma once

#include "glassine/photo/picture.h"

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

namespace glassine::photo {

/// A small picture: 8 bits a channel, red green blue, rows from the top without padding.
struct Raster {
    std::uint32_t width = 0;
    std::uint32_t height = 0;
    std::vector<std::uint8_t> rgb;

    bool empty() const { return rgb.empty(); }
    std::uint8_t* at(std::uint32_t x, std::uint32_t y) {
        return rgb.data() + (std::size_t{y} * width + x) * 3;
    }
    const std::uint8_t* at(std::uint32_t x, std::uint32_t y) const {
        return rgb.data() + (std::size_t{y} * width + x) * 3;
    }
};

/// Makes a picture smaller while its rows come, each output pixel the mean of the input pixels that
/// fall into it: memory for the small picture only.
class Shrink {
  public:
    Shrink() = default;
    /// The long edge becomes `edge` pixels, or stays when it is shorter.
    Shrink(std::uint32_t width, std::uint32_t height, unsigned edge);

    bool wanted() const { return width_ != 0; }
    /// The next row, `width` pixels of red green blue. Rows past the height are ignored.
    void add(const std::uint8_t* rgb);
    /// What has come so far, lines that never came in grey; empty when no row came.
    Raster take();

  private:
    void flush();

    std::uint32_t width_ = 0;
    std::uint32_t height_ = 0;
    std::uint32_t row_ = 0;
    std::uint32_t out_row_ = 0;
    std::vector<std::uint32_t> column_;  ///< input column → output column
    std::vector<std::uint32_t> sums_;
    std::vector<std::uint32_t> counts_;
    Raster out_;
};

/// Turned and mirrored so that it stands upright (Exif 2.32, Orientation 1 to 8; others as 1).
Raster upright(Raster raster, std::uint16_t orientation);

/// From the Adobe RGB (1998) encoding to sRGB; colours outside sRGB are clipped.
void adobe_rgb_to_srgb(Raster& raster);

/// A baseline JPEG; empty when libjpeg refuses.
std::string encode_jpeg(const Raster& raster, int quality);

}  // namespace glassine::photo

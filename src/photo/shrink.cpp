#include "photo/raster.h"

#include <algorithm>
#include <cmath>

namespace glassine::photo {

namespace {

/// What stands where no line of the picture could be decoded.
constexpr std::uint8_t grey = 0x80;

std::uint32_t scaled(std::uint32_t length, std::uint32_t longest, unsigned edge) {
    if (longest <= edge) return length;
    const auto rounded = (std::uint64_t{length} * edge + longest / 2) / longest;
    return static_cast<std::uint32_t>(std::max<std::uint64_t>(rounded, 1));
}

}  // namespace

Shrink::Shrink(std::uint32_t width, std::uint32_t height, unsigned edge) {
    if (width == 0 || height == 0 || edge == 0) return;
    width_ = width;
    height_ = height;
    const std::uint32_t longest = std::max(width, height);
    out_.width = scaled(width, longest, edge);
    out_.height = scaled(height, longest, edge);
    out_.rgb.assign(std::size_t{out_.width} * out_.height * 3, grey);
    column_.resize(width);
    for (std::uint32_t x = 0; x < width; ++x)
        column_[x] = static_cast<std::uint32_t>(std::uint64_t{x} * out_.width / width);
    sums_.resize(std::size_t{out_.width} * 3);
    counts_.resize(out_.width);
}

void Shrink::add(const std::uint8_t* rgb) {
    if (row_ >= height_) return;
    const auto target = static_cast<std::uint32_t>(std::uint64_t{row_} * out_.height / height_);
    if (target != out_row_) {
        flush();
        out_row_ = target;
    }
    for (std::uint32_t x = 0; x < width_; ++x, rgb += 3) {
        const std::size_t to = column_[x];
        sums_[to * 3] += rgb[0];
        sums_[to * 3 + 1] += rgb[1];
        sums_[to * 3 + 2] += rgb[2];
        ++counts_[to];
    }
    ++row_;
}

void Shrink::flush() {
    std::uint8_t* out = out_.at(0, out_row_);
    for (std::uint32_t x = 0; x < out_.width; ++x) {
        const std::uint32_t n = counts_[x];
        if (n == 0) continue;
        for (int channel = 0; channel < 3; ++channel)
            out[x * 3 + channel] = static_cast<std::uint8_t>((sums_[x * 3 + channel] + n / 2) / n);
    }
    std::ranges::fill(sums_, 0);
    std::ranges::fill(counts_, 0);
}

Raster Shrink::take() {
    if (row_ == 0) return {};
    flush();
    return std::move(out_);
}

Raster upright(Raster raster, std::uint16_t orientation) {
    if (raster.empty() || orientation < 2 || orientation > 8) return raster;
    const bool swapped = orientation >= 5;
    Raster out;
    out.width = swapped ? raster.height : raster.width;
    out.height = swapped ? raster.width : raster.height;
    out.rgb.resize(raster.rgb.size());
    const std::uint32_t right = raster.width - 1;
    const std::uint32_t bottom = raster.height - 1;
    for (std::uint32_t y = 0; y < raster.height; ++y) {
        for (std::uint32_t x = 0; x < raster.width; ++x) {
            std::uint32_t tx = x;
            std::uint32_t ty = y;
            switch (orientation) {
                case 2:
                    tx = right - x;
                    break;
                case 3:
                    tx = right - x, ty = bottom - y;
                    break;
                case 4:
                    ty = bottom - y;
                    break;
                case 5:
                    tx = y, ty = x;
                    break;
                case 6:
                    tx = bottom - y, ty = x;
                    break;
                case 7:
                    tx = bottom - y, ty = right - x;
                    break;
                default:
                    tx = y, ty = right - x;
                    break;
            }
            std::copy_n(raster.at(x, y), 3, out.at(tx, ty));
        }
    }
    return out;
}

void adobe_rgb_to_srgb(Raster& raster) {
    // Adobe RGB (1998) and IEC 61966-2-1 have the same white (D65): one matrix leads from linear to
    // linear. From the primaries that both standards publish; gamma 563/256 and the sRGB curve.
    constexpr double m[3][3] = {
        {1.39836, -0.39836, 0.0}, {0.0, 1.0, 0.0}, {0.0, -0.04293, 1.04293}};
    double linear[256];
    for (int i = 0; i < 256; ++i)
        linear[i] = std::pow(i / 255.0, 563.0 / 256.0);
    for (std::size_t i = 0; i + 2 < raster.rgb.size(); i += 3) {
        std::uint8_t* p = raster.rgb.data() + i;
        const double in[3] = {linear[p[0]], linear[p[1]], linear[p[2]]};
        for (int c = 0; c < 3; ++c) {
            const double v =
                std::clamp(m[c][0] * in[0] + m[c][1] * in[1] + m[c][2] * in[2], 0.0, 1.0);
            const double s = v <= 0.0031308 ? 12.92 * v : 1.055 * std::pow(v, 1 / 2.4) - 0.055;
            p[c] = static_cast<std::uint8_t>(std::lround(s * 255));
        }
    }
}

}  // namespace glassine::photo

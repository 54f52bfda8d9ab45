#include "photo/plain_raw.h"

#include <algorithm>

namespace glassine::photo {

namespace {

constexpr std::uint64_t longest_side = 65535;

}  // namespace

bool plain_tiles(const TiffStructure& tiff) {
    const TiffDirectory* raw = tiff.main_picture();
    return raw != nullptr && tiff.has(*raw, tag::tile_offsets) &&
           tiff.number_or(*raw, tag::compression, 1) == 1;
}

std::uint64_t PlainPlane::bytes(const TiffStructure& tiff) {
    const TiffDirectory* raw = tiff.main_picture();
    if (raw == nullptr) return 0;
    const auto width = std::min(tiff.number_or(*raw, tag::width, 0), longest_side);
    const auto height = std::min(tiff.number_or(*raw, tag::length, 0), longest_side);
    return width * height * sizeof(std::uint16_t);
}

std::optional<PlainPlane> PlainPlane::read(Bytes file, const TiffStructure& tiff) {
    const TiffDirectory* raw = tiff.main_picture();
    if (raw == nullptr || !plain_tiles(tiff)) return std::nullopt;
    const auto width = tiff.number_or(*raw, tag::width, 0);
    const auto height = tiff.number_or(*raw, tag::length, 0);
    const auto across = tiff.number_or(*raw, tag::tile_width, 0);
    const auto down = tiff.number_or(*raw, tag::tile_length, 0);
    const auto bits = tiff.number_or(*raw, tag::bits, 0);
    const auto fits = [](std::uint64_t n) { return n > 0 && n <= longest_side; };
    if (!fits(width) || !fits(height) || !fits(across) || !fits(down) ||
        (bits != 8 && bits != 16) || tiff.number_or(*raw, tag::samples, 1) != 1)
        return std::nullopt;
    // Values that the file cannot hold would only cost memory.
    if (width * height * bits / 8 > file.size()) return std::nullopt;

    PlainPlane out;
    out.width_ = static_cast<std::uint32_t>(width);
    out.height_ = static_cast<std::uint32_t>(height);
    out.values_.resize(width * height);
    std::uint64_t index = 0;
    for (std::uint64_t top = 0; top < height; top += down)
        for (std::uint64_t left = 0; left < width; left += across, ++index) {
            const auto offset = tiff.number(*raw, tag::tile_offsets, index);
            if (!offset || *offset > file.size()) return std::nullopt;
            const ByteReader tile(file.subspan(*offset), tiff.big_endian());
            if (!out.put(tile, left, top, across, down, static_cast<unsigned>(bits / 8)))
                return std::nullopt;
        }
    return out;
}

bool PlainPlane::put(const ByteReader& tile, std::uint64_t left, std::uint64_t top,
                     std::uint64_t tile_width, std::uint64_t tile_length, unsigned width) {
    const std::uint64_t columns = std::min(tile_width, width_ - left);
    const std::uint64_t rows = std::min(tile_length, height_ - top);
    for (std::uint64_t y = 0; y < rows; ++y)
        for (std::uint64_t x = 0; x < columns; ++x) {
            const auto value = tile.number((y * tile_width + x) * width, width);
            if (!value) return false;
            values_[(top + y) * width_ + left + x] = static_cast<std::uint16_t>(*value);
        }
    return true;
}

}  // namespace glassine::photo

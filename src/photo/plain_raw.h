#pragma once

#include "photo/raw_decoder.h"
#include "photo/tiff_structure.h"

#include <optional>
#include <vector>

namespace glassine::photo {

/// The sensor's values lie in tiles and are not packed: LibRaw 0.20 reads such a DNG as if it had
/// strips and then misses bytes at its end, so that its word does not count here.
bool plain_tiles(const TiffStructure& tiff);

/// Values put together from tiles that are not packed, one plane of 8 or 16 bits.
class PlainPlane {
  public:
    /// Nothing when measures and tiles do not fit, or the values have other widths.
    static std::optional<PlainPlane> read(Bytes file, const TiffStructure& tiff);
    RawDecoder::Plane plane() const { return {values_.data(), width_, height_, width_}; }

    /// What `read` takes.
    static std::uint64_t bytes(const TiffStructure& tiff);

  private:
    bool put(const ByteReader& tile, std::uint64_t left, std::uint64_t top,
             std::uint64_t tile_width, std::uint64_t tile_length, unsigned width);

    std::vector<std::uint16_t> values_;
    std::uint32_t width_ = 0;
    std::uint32_t height_ = 0;
};

}  // namespace glassine::photo

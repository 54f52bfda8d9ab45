#include "photo/dng_digest.h"

#include "glassine/base/text.h"
#include "glassine/digest/digest.h"

#include <algorithm>
#include <array>
#include <bit>
#include <vector>

namespace glassine::photo {

namespace {

using digest::Algorithm;
using digest::Hasher;
using Plane = RawDecoder::Plane;

constexpr std::uint32_t tile_edge = 256;
constexpr std::size_t digest_size = 16;

std::string hex_of(const TiffStructure& tiff, const TiffDirectory& directory, std::uint16_t tag) {
    const auto bytes = tiff.bytes(directory, tag);
    const bool real = bytes && bytes->size() == digest_size &&
                      std::ranges::any_of(*bytes, [](std::byte b) { return b != std::byte{0}; });
    return real ? text::hex(*bytes) : std::string();
}

/// Appends `count` values of a row, as 16 bits little endian or as single bytes.
void append(std::vector<std::byte>& out, const std::uint16_t* row, std::uint32_t count,
            bool bytes) {
    for (std::uint32_t x = 0; x < count; ++x) {
        out.push_back(static_cast<std::byte>(row[x] & 0xFF));
        if (!bytes) out.push_back(static_cast<std::byte>(row[x] >> 8));
    }
}

std::string in_row_order(const Plane& plane) {
    Hasher md5(Algorithm::md5);
    std::vector<std::byte> row;
    for (std::uint32_t y = 0; y < plane.height; ++y) {
        row.clear();
        append(row, plane.values + y * plane.stride, plane.width, false);
        md5.update(row);
    }
    return md5.finish().hex();
}

std::string in_tiles(const Plane& plane, bool bytes) {
    Hasher all(Algorithm::md5);
    Hasher md5(Algorithm::md5);
    std::vector<std::byte> tile;
    for (std::uint32_t top = 0; top < plane.height; top += tile_edge)
        for (std::uint32_t left = 0; left < plane.width; left += tile_edge) {
            tile.clear();
            const std::uint32_t columns = std::min(tile_edge, plane.width - left);
            for (std::uint32_t y = top; y < std::min(top + tile_edge, plane.height); ++y)
                append(tile, plane.values + y * plane.stride + left, columns, bytes);
            md5.update(tile);
            all.update(md5.finish().bytes());
        }
    return all.finish().hex();
}

/// The directory of the raw values, when the rule has no doubt about it.
const TiffDirectory* plain_raw(const TiffStructure& tiff) {
    constexpr std::uint64_t mask = 4;  // NewSubFileType of a transparency mask
    for (const TiffDirectory& directory : tiff.directories())
        if ((tiff.number_or(directory, tag::new_subfile_type, 0) & mask) != 0) return nullptr;
    const TiffDirectory* raw = tiff.main_picture();
    if (raw == nullptr) return nullptr;
    constexpr std::array<std::uint64_t, 3> lossless{1, 7, 8};
    const auto compression = tiff.number_or(*raw, tag::compression, 1);
    const auto bits = tiff.number_or(*raw, tag::bits, 0);
    const bool one_plane = tiff.number_or(*raw, tag::photometric, 0) == 32803 &&
                           tiff.number_or(*raw, tag::samples, 1) == 1;
    // 8 bits with compression 7 may be baseline JPEG, which loses.
    const bool packing = std::ranges::find(lossless, compression) != lossless.end() &&
                         !(compression == 7 && bits <= 8);
    const bool plain = !tiff.has(*raw, tag::linearization) &&
                       tiff.number_or(*raw, tag::row_interleave, 1) == 1 &&
                       tiff.number_or(*raw, tag::column_interleave, 1) == 1 &&
                       tiff.number_or(*raw, tag::sample_format, 1) == 1;
    return one_plane && packing && plain && bits >= 8 && bits <= 16 ? raw : nullptr;
}

}  // namespace

StoredDigest stored_digest(const TiffStructure& tiff) {
    const TiffDirectory* directory = tiff.dng();
    if (directory == nullptr) return {};
    if (std::string hex = hex_of(tiff, *directory, tag::new_raw_digest); !hex.empty())
        return {std::move(hex), true};
    return {hex_of(tiff, *directory, tag::raw_digest), false};
}

std::string computed_digest(const TiffStructure& tiff, const StoredDigest& stored,
                            const std::optional<Plane>& plane) {
    const TiffDirectory* raw = plain_raw(tiff);
    if (stored.hex.empty() || raw == nullptr || !plane ||
        plane->width != tiff.number_or(*raw, tag::width, 0) ||
        plane->height != tiff.number_or(*raw, tag::length, 0))
        return {};
    if (!stored.new_method) return in_row_order(*plane);
    return in_tiles(*plane, tiff.number_or(*raw, tag::bits, 16) <= 8);
}

bool known_defect(const StoredDigest& stored, const std::string& computed) {
    if (stored.new_method || computed.empty() || stored.hex == computed) return false;
    return stored.hex.substr(8) == computed.substr(8) || stored.hex.starts_with("08000000");
}

}  // namespace glassine::photo

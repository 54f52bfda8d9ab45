#pragma once

#include "photo/bytes.h"

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace glassine::photo {

/// One entry of a directory (TIFF 6.0 section 2).
struct TiffEntry {
    std::uint16_t type = 0;
    std::uint64_t count = 0;
    std::uint64_t offset = 0;  ///< of the value, wherever it stands
    bool lies_inside = false;  ///< the whole value lies inside the file
};

/// One image file directory.
struct TiffDirectory {
    std::uint64_t offset = 0;
    std::map<std::uint16_t, TiffEntry> entries;
    bool top = false;  ///< in the chain from the header, not a SubIFD
};

/// A stretch of the file that holds picture data.
struct TiffChunk {
    std::uint64_t offset = 0;
    std::uint64_t length = 0;
};

/// The directories of a TIFF, BigTIFF or TIFF-like raw, and what they point to.
///
/// Offsets are hostile: visited directories are remembered, counts are bounded, nothing overflows.
class TiffStructure {
  public:
    explicit TiffStructure(Bytes file);

    /// Header and first directory could be read.
    bool readable() const { return !directories_.empty(); }
    bool big_endian() const { return reader_.big_endian(); }
    const std::vector<TiffDirectory>& directories() const { return directories_; }
    /// The first thing that is wrong with header or directories; empty when all could be read.
    const std::string& problem() const { return problem_; }
    std::uint64_t problem_offset() const { return problem_offset_; }

    /// A value of BYTE, SHORT, LONG, LONG8 or IFD; nothing where it is missing or outside.
    std::optional<std::uint64_t> number(const TiffDirectory& directory, std::uint16_t tag,
                                        std::uint64_t index = 0) const;
    std::uint64_t number_or(const TiffDirectory& directory, std::uint16_t tag,
                            std::uint64_t otherwise) const {
        return number(directory, tag).value_or(otherwise);
    }
    std::uint64_t count(const TiffDirectory& directory, std::uint16_t tag) const;
    bool has(const TiffDirectory& directory, std::uint16_t tag) const {
        return directory.entries.contains(tag);
    }
    std::optional<Bytes> bytes(const TiffDirectory& directory, std::uint16_t tag) const;

    /// Strips, tiles and the 513/514 pair as the directory lists them, inside the file or not.
    std::vector<TiffChunk> chunks(const TiffDirectory& directory) const;

    /// The main picture: DNG and TIFF/EP mark it with NewSubFileType 0 (else the largest); nullptr
    /// if none.
    const TiffDirectory* main_picture() const;
    /// The directory with DNGVersion; nullptr in other files.
    const TiffDirectory* dng() const;
    /// Some directory holds sensor data: colour filter array, linear raw, or a maker's packing.
    bool holds_raw() const;

  private:
    void read_header(Bytes file);
    void read_chain(std::uint64_t offset);
    bool read_directory(std::uint64_t offset, bool top, std::uint64_t& next);
    void read_sub_directories(std::size_t parent);
    void fail(std::string why, std::uint64_t offset);

    ByteReader reader_;
    bool big_ = false;
    std::vector<TiffDirectory> directories_;
    std::vector<std::uint64_t> visited_;
    std::string problem_;
    std::uint64_t problem_offset_ = 0;
};

/// A part of the file that is not there, or does not fit the picture's measures.
struct TiffProblem {
    std::string why;
    std::uint64_t offset = 0;
    std::optional<std::uint32_t> lost_from_line;
};

/// TIFF 6.0: every directory, every value and all picture data lie inside the file. `strict` for
/// TIFF and DNG; makers' raws are only asked for what they say of picture data, since their other
/// tags may hold anything.
std::optional<TiffProblem> check_tiff_structure(const TiffStructure& tiff, std::uint64_t size,
                                                bool strict);

namespace tag {
// TIFF 6.0, TIFF/EP, DNG: the numbers used here.
inline constexpr std::uint16_t new_subfile_type = 254, width = 256, length = 257, bits = 258,
                               compression = 259, photometric = 262, strip_offsets = 273,
                               samples = 277, rows_per_strip = 278, strip_byte_counts = 279,
                               planar = 284, tile_width = 322, tile_length = 323,
                               tile_offsets = 324, tile_byte_counts = 325, sub_ifds = 330,
                               sample_format = 339, jpeg_offset = 513, jpeg_length = 514,
                               dng_version = 50706, linearization = 50712, raw_digest = 50972,
                               sub_tile_block = 50974, row_interleave = 50975,
                               new_raw_digest = 51111, column_interleave = 52547;
}  // namespace tag

}  // namespace glassine::photo

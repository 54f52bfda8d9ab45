#include "photo/tiff_structure.h"

#include <algorithm>

#include <fmt/format.h>

namespace glassine::photo {

namespace {

/// How the picture data of one directory are cut up (TIFF 6.0 sections 3 and 15).
struct Layout {
    std::uint64_t width = 0;
    std::uint64_t height = 0;
    std::uint64_t chunk_rows = 0;
    std::uint64_t chunk_width = 0;
    std::uint64_t across = 1;  ///< chunks beside one another
    std::uint64_t down = 0;
    std::uint64_t planes = 1;
    bool tiled = false;

    std::uint64_t chunks() const { return across * down * planes; }
    std::uint32_t first_line(std::uint64_t chunk) const {
        const std::uint64_t of_plane = across * down;
        return static_cast<std::uint32_t>(chunk % of_plane / across * chunk_rows);
    }
};

constexpr std::uint64_t largest = 1u << 30;

std::optional<Layout> layout_of(const TiffStructure& tiff, const TiffDirectory& directory) {
    Layout out;
    out.width = tiff.number_or(directory, tag::width, 0);
    out.height = tiff.number_or(directory, tag::length, 0);
    if (out.width == 0 || out.height == 0 || out.width > largest || out.height > largest)
        return std::nullopt;
    out.tiled = tiff.has(directory, tag::tile_offsets);
    out.chunk_width = out.width;
    const auto divide = [](std::uint64_t a, std::uint64_t b) { return (a + b - 1) / b; };
    if (out.tiled) {
        const auto tile_width = tiff.number_or(directory, tag::tile_width, 0);
        out.chunk_rows = tiff.number_or(directory, tag::tile_length, 0);
        if (tile_width == 0 || out.chunk_rows == 0) return std::nullopt;
        out.chunk_width = tile_width;
        out.across = divide(out.width, tile_width);
    } else {
        out.chunk_rows =
            std::min(tiff.number_or(directory, tag::rows_per_strip, out.height), out.height);
        if (out.chunk_rows == 0) return std::nullopt;
    }
    out.down = divide(out.height, out.chunk_rows);
    if (tiff.number_or(directory, tag::planar, 1) == 2)
        out.planes = std::clamp<std::uint64_t>(tiff.number_or(directory, tag::samples, 1), 1, 64);
    return out;
}

/// The bytes of an uncompressed strip or tile; nothing when it cannot be told (compressed,
/// subsampled).
std::optional<std::uint64_t> plain_bytes(const TiffStructure& tiff, const TiffDirectory& directory,
                                         const Layout& layout, std::uint64_t strip) {
    if (tiff.number_or(directory, tag::compression, 1) != 1 ||
        tiff.number_or(directory, tag::photometric, 2) == 6)
        return std::nullopt;
    const auto bits = tiff.number_or(directory, tag::bits, 1);
    const auto samples =
        layout.planes > 1 ? 1
                          : std::min<std::uint64_t>(tiff.number_or(directory, tag::samples, 1), 64);
    const auto rows = layout.tiled
                          ? layout.chunk_rows
                          : std::min(layout.chunk_rows, layout.height - layout.first_line(strip));
    return (layout.chunk_width * samples * std::min<std::uint64_t>(bits, 64) + 7) / 8 * rows;
}

class Check {
  public:
    Check(const TiffStructure& tiff, std::uint64_t size, bool strict)
        : tiff_(tiff), size_(size), strict_(strict) {}

    std::optional<TiffProblem> run() {
        if (!tiff_.readable() || (strict_ && !tiff_.problem().empty()))
            return TiffProblem{tiff_.problem(), tiff_.problem_offset(), std::nullopt};
        for (const TiffDirectory& directory : tiff_.directories()) {
            if (strict_) values(directory);
            picture_data(directory);
            if (strict_) measures(directory);
            if (problem_) break;
        }
        return problem_;
    }

  private:
    void fail(std::string why, std::uint64_t offset, std::optional<std::uint32_t> line = {}) {
        if (!problem_) problem_ = TiffProblem{std::move(why), offset, line};
    }

    void values(const TiffDirectory& directory) {
        for (const auto& [tag, entry] : directory.entries)
            if (!entry.lies_inside && entry.type >= 1 && entry.type <= 13)
                return fail(fmt::format("cut off: the value of tag {} lies outside the file", tag),
                            std::min(entry.offset, size_));
    }

    void picture_data(const TiffDirectory& directory) {
        const auto chunks = tiff_.chunks(directory);
        const auto layout = layout_of(tiff_, directory);
        const bool of_main = &directory == tiff_.main_picture();
        for (std::size_t i = 0; i < chunks.size(); ++i) {
            // All ones: a maker's mark for "stands elsewhere".
            if (!strict_ && (chunks[i].offset == 0xFFFFFFFF || chunks[i].length == 0)) continue;
            if (inside(size_, chunks[i].offset, chunks[i].length)) continue;
            std::optional<std::uint32_t> line;
            std::string detail;
            if (of_main && layout && i < layout->chunks()) {
                line = layout->first_line(i);
                detail = fmt::format(", from line {} of {} on", *line, layout->height);
            }
            return fail(
                fmt::format("cut off: picture data at byte {} ({} bytes) reach past the end "
                            "of the file at {}{}",
                            chunks[i].offset, chunks[i].length, size_, detail),
                size_, line);
        }
    }

    void measures(const TiffDirectory& directory) {
        const bool tiled = tiff_.has(directory, tag::tile_offsets);
        const auto offsets = tiled ? tag::tile_offsets : tag::strip_offsets;
        const auto lengths = tiled ? tag::tile_byte_counts : tag::strip_byte_counts;
        const auto layout = layout_of(tiff_, directory);
        if (!layout || !tiff_.has(directory, offsets)) return;
        const auto there =
            std::min(tiff_.count(directory, offsets), tiff_.count(directory, lengths));
        if (there < layout->chunks())
            return fail(fmt::format("the picture needs {} strips or tiles, but {} are listed",
                                    layout->chunks(), there),
                        directory.offset);
        for (std::uint64_t i = 0; i < layout->chunks(); ++i) {
            const auto need = plain_bytes(tiff_, directory, *layout, i);
            if (!need) return;
            const auto has = tiff_.number(directory, lengths, i).value_or(0);
            if (has < *need)
                return fail(fmt::format("strip or tile {} holds {} bytes, but its lines need {}", i,
                                        has, *need),
                            tiff_.number_or(directory, offsets, 0), layout->first_line(i));
        }
    }

    const TiffStructure& tiff_;
    std::uint64_t size_;
    bool strict_;
    std::optional<TiffProblem> problem_;
};

}  // namespace

std::optional<TiffProblem> check_tiff_structure(const TiffStructure& tiff, std::uint64_t size,
                                                bool strict) {
    return Check(tiff, size, strict).run();
}

}  // namespace glassine::photo

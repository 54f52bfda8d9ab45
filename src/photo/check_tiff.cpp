#include "photo/deflate_check.h"
#include "photo/formats.h"

#include <algorithm>
#include <cstdarg>
#include <cstdio>
#include <cstring>
#include <memory>
#include <vector>

#include <fmt/format.h>
#include <tiffio.h>

namespace glassine::photo {

namespace {

/// What libtiff may take for one strip or tile, whatever a file says of itself.
constexpr tmsize_t most_chunk_bytes = tmsize_t{1} << 30;
constexpr int most_pages = 100;
/// Decoded picture data of all pages: a file that unpacks to more was made to keep a decoder busy.
constexpr std::uint64_t most_unpacked = std::uint64_t{64} << 30;

/// The file as libtiff sees it, and what libtiff said.
struct Source {
    Bytes file;
    std::uint64_t position = 0;
    std::string said;    ///< the first error
    std::string damage;  ///< the first warning that means damage
};

std::string formatted(const char* format, std::va_list arguments) {
    char text[500];
    std::vsnprintf(text, sizeof text, format, arguments);
    return text;
}

int on_error(TIFF*, void* data, const char*, const char* format, std::va_list arguments) {
    auto& source = *static_cast<Source*>(data);
    if (source.said.empty()) source.said = formatted(format, arguments);
    return 1;
}

int on_warning(TIFF*, void* data, const char* module, const char* format, std::va_list arguments) {
    auto& source = *static_cast<Source*>(data);
    // libjpeg inside libtiff fills in what is damaged and only warns.
    if (module == nullptr || std::strcmp(module, "JPEGLib") != 0) return 1;
    const std::string text = formatted(format, arguments);
    const bool damage =
        text.find("Corrupt") != std::string::npos || text.find("remature end") != std::string::npos;
    if (damage && source.damage.empty()) source.damage = text;
    return 1;
}

tmsize_t read_bytes(thandle_t handle, void* into, tmsize_t size) {
    auto& source = *static_cast<Source*>(handle);
    if (source.position >= source.file.size() || size <= 0) return 0;
    const auto n = std::min<std::uint64_t>(size, source.file.size() - source.position);
    std::memcpy(into, source.file.data() + source.position, n);
    source.position += n;
    return static_cast<tmsize_t>(n);
}

tmsize_t write_bytes(thandle_t, void*, tmsize_t) {
    return 0;
}

toff_t seek(thandle_t handle, toff_t offset, int whence) {
    auto& source = *static_cast<Source*>(handle);
    if (whence == SEEK_CUR) offset += source.position;
    if (whence == SEEK_END) offset += source.file.size();
    source.position = offset;
    return offset;
}

int close_file(thandle_t) {
    return 0;
}

toff_t file_size(thandle_t handle) {
    return static_cast<Source*>(handle)->file.size();
}

int map_file(thandle_t handle, void** base, toff_t* size) {
    const Bytes file = static_cast<Source*>(handle)->file;
    *base = const_cast<std::byte*>(file.data());
    *size = file.size();
    return 1;
}

void unmap_file(thandle_t, void*, toff_t) {}

using Tiff = std::unique_ptr<TIFF, decltype(&TIFFClose)>;

Tiff open(Source& source) {
    const std::unique_ptr<TIFFOpenOptions, decltype(&TIFFOpenOptionsFree)> options(
        TIFFOpenOptionsAlloc(), &TIFFOpenOptionsFree);
    TIFFOpenOptionsSetMaxSingleMemAlloc(options.get(), most_chunk_bytes);
    TIFFOpenOptionsSetErrorHandlerExtR(options.get(), &on_error, &source);
    TIFFOpenOptionsSetWarningHandlerExtR(options.get(), &on_warning, &source);
    return {TIFFClientOpenExt("picture", "r", &source, &read_bytes, &write_bytes, &seek,
                              &close_file, &file_size, &map_file, &unmap_file, options.get()),
            &TIFFClose};
}

/// The measures of the page that libtiff stands on.
struct Page {
    explicit Page(TIFF* tiff) {
        TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &width);
        TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &height);
        TIFFGetFieldDefaulted(tiff, TIFFTAG_BITSPERSAMPLE, &bits);
        TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLESPERPIXEL, &samples);
        TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLEFORMAT, &format);
        TIFFGetFieldDefaulted(tiff, TIFFTAG_PLANARCONFIG, &planar);
        TIFFGetFieldDefaulted(tiff, TIFFTAG_COMPRESSION, &compression);
        TIFFGetField(tiff, TIFFTAG_PHOTOMETRIC, &photometric);
        tiled = TIFFIsTiled(tiff) != 0;
    }
    /// Rows of plain red green blue or grey, one after another.
    bool has_rows() const {
        const bool colours = photometric == PHOTOMETRIC_RGB ||
                             photometric == PHOTOMETRIC_MINISBLACK ||
                             (photometric == PHOTOMETRIC_YCBCR && compression == COMPRESSION_JPEG);
        return !tiled && planar == PLANARCONFIG_CONTIG && (bits == 8 || bits == 16) &&
               format == SAMPLEFORMAT_UINT && colours;
    }

    std::uint32_t width = 0;
    std::uint32_t height = 0;
    std::uint16_t bits = 1;
    std::uint16_t samples = 1;
    std::uint16_t format = SAMPLEFORMAT_UINT;
    std::uint16_t planar = PLANARCONFIG_CONTIG;
    std::uint16_t compression = COMPRESSION_NONE;
    std::uint16_t photometric = 0;
    bool tiled = false;
};

class Unpacking {
  public:
    Unpacking(Bytes file, unsigned edge, Budget* budget, Decoded& out)
        : source_{file, 0, {}, {}}, edge_(edge), budget_(budget), out_(out) {}

    void run() {
        const Tiff tiff = open(source_);
        if (!tiff) return out_.breaks(fmt::format("libtiff cannot open it: {}", source_.said));
        int pages = 0;
        do {
            page(tiff.get(), pages == 0);
        } while (!out_.is_broken() && !stopped_ && ++pages < most_pages &&
                 TIFFReadDirectory(tiff.get()) != 0);
    }

  private:
    void page(TIFF* tiff, bool first) {
        const Page measures(tiff);
        if (TIFFIsCODECConfigured(measures.compression) == 0)
            return stop(fmt::format("libtiff cannot unpack compression {}", measures.compression));
        if (measures.photometric == PHOTOMETRIC_YCBCR && measures.compression == COMPRESSION_JPEG)
            TIFFSetField(tiff, TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB);
        const auto bytes = measures.tiled ? TIFFTileSize64(tiff) * TIFFNumberOfTiles(tiff)
                                          : TIFFStripSize64(tiff) * TIFFNumberOfStrips(tiff);
        unpacked_ += bytes;
        if (unpacked_ > most_unpacked) return stop("it unpacks to more than a picture can hold");
        const bool plain = measures.compression == COMPRESSION_NONE;
        if (measures.has_rows() && (!plain || (first && edge_ != 0)))
            rows(tiff, measures, first);
        else if (!plain)  // Unpacked data are proven by their offsets and lengths alone.
            chunks(tiff, measures);
        if (!out_.is_broken() && !stopped_) check_values(tiff, measures);
    }

    void stop(std::string why) {
        stopped_ = true;
        out_.why = std::move(why);
    }

    void damaged(std::uint32_t line, std::uint32_t height, std::uint64_t offset) {
        const std::string& said = source_.said.empty() ? source_.damage : source_.said;
        out_.breaks(fmt::format("damaged picture data near byte {}, from line {} of {} on: {}",
                                offset, line, height, said),
                    offset, line);
    }

    bool complained() const { return !source_.damage.empty() || !source_.said.empty(); }

    void rows(TIFF* tiff, const Page& page, bool first) {
        const auto row_size = TIFFScanlineSize64(tiff);
        if (row_size == 0 || row_size > most_chunk_bytes) return stop("its rows are too long");
        const auto leased = lease(budget_, row_size * 2);
        std::vector<std::uint8_t> row(row_size);
        std::vector<std::uint8_t> rgb;
        Shrink shrink = first ? Shrink(page.width, page.height, edge_) : Shrink();
        for (std::uint32_t y = 0; y < page.height; ++y) {
            if (TIFFReadScanline(tiff, row.data(), y, 0) < 0 || complained()) {
                damaged(y, page.height, TIFFGetStrileOffset(tiff, TIFFComputeStrip(tiff, y, 0)));
                break;
            }
            if (!shrink.wanted()) continue;
            to_rgb(row, page, rgb);
            shrink.add(rgb.data());
        }
        if (first) out_.thumbnail = shrink.take();
    }

    static void to_rgb(const std::vector<std::uint8_t>& row, const Page& page,
                       std::vector<std::uint8_t>& rgb) {
        rgb.resize(std::size_t{page.width} * 3);
        const unsigned step = page.bits / 8;
        // libtiff hands 16 bits over in this computer's order: the upper byte is the last one.
        const unsigned high = step - 1;
        const bool grey = page.samples < 3;
        for (std::size_t x = 0; x < page.width; ++x)
            for (std::size_t c = 0; c < 3; ++c) {
                const std::size_t at = (x * page.samples + (grey ? 0 : c)) * step + high;
                rgb[x * 3 + c] = at < row.size() ? row[at] : 0;
            }
    }

    void chunks(TIFF* tiff, const Page& page) {
        const auto size = page.tiled ? TIFFTileSize64(tiff) : TIFFStripSize64(tiff);
        if (size == 0 || size > static_cast<std::uint64_t>(most_chunk_bytes))
            return stop("its strips or tiles are too large");
        const auto leased = lease(budget_, size);
        std::vector<std::uint8_t> buffer(size);
        const std::uint32_t n = page.tiled ? TIFFNumberOfTiles(tiff) : TIFFNumberOfStrips(tiff);
        for (std::uint32_t i = 0; i < n; ++i) {
            const auto got = page.tiled ? TIFFReadEncodedTile(tiff, i, buffer.data(), -1)
                                        : TIFFReadEncodedStrip(tiff, i, buffer.data(), -1);
            if (got >= 0 && !complained()) continue;
            return damaged(first_line(tiff, page, i), page.height, TIFFGetStrileOffset(tiff, i));
        }
    }

    /// What deflate packed carries a check value of its own.
    void check_values(TIFF* tiff, const Page& page) {
        if (page.compression != COMPRESSION_ADOBE_DEFLATE &&
            page.compression != COMPRESSION_DEFLATE)
            return;
        const std::uint32_t n = page.tiled ? TIFFNumberOfTiles(tiff) : TIFFNumberOfStrips(tiff);
        for (std::uint32_t i = 0; i < n; ++i) {
            const std::uint64_t offset = TIFFGetStrileOffset(tiff, i);
            const std::uint64_t length = TIFFGetStrileByteCount(tiff, i);
            if (!inside(source_.file.size(), offset, length)) continue;
            if (!contradicts_itself(source_.file.subspan(offset, length))) continue;
            source_.said = "the packed data contradict their check value";
            return damaged(first_line(tiff, page, i), page.height, offset);
        }
    }

    static std::uint32_t first_line(TIFF* tiff, const Page& page, std::uint32_t chunk) {
        std::uint32_t rows = page.height;
        std::uint32_t across = 1;
        if (page.tiled) {
            std::uint32_t tile_width = page.width;
            TIFFGetField(tiff, TIFFTAG_TILEWIDTH, &tile_width);
            TIFFGetField(tiff, TIFFTAG_TILELENGTH, &rows);
            across = std::max(1u, (page.width + tile_width - 1) / std::max(1u, tile_width));
        } else {
            TIFFGetFieldDefaulted(tiff, TIFFTAG_ROWSPERSTRIP, &rows);
        }
        const std::uint64_t line = std::uint64_t{chunk / across} * rows;
        return static_cast<std::uint32_t>(line % std::max(1u, page.height));
    }

    Source source_;
    unsigned edge_;
    Budget* budget_;
    Decoded& out_;
    std::uint64_t unpacked_ = 0;
    bool stopped_ = false;
};

}  // namespace

Decoded check_tiff(Bytes file, const TiffStructure& structure, unsigned edge, Budget* budget) {
    Decoded out;
    if (const TiffDirectory* main = structure.main_picture()) {
        out.width = static_cast<std::uint32_t>(structure.number_or(*main, tag::width, 0));
        out.height = static_cast<std::uint32_t>(structure.number_or(*main, tag::length, 0));
    }
    if (const auto problem = check_tiff_structure(structure, file.size(), true)) {
        out.breaks(problem->why, problem->offset, problem->lost_from_line);
        return out;
    }
    Unpacking(file, edge, budget, out).run();
    if (!out.is_broken() && out.why.empty()) out.verdict = Verdict::whole;
    return out;
}

}  // namespace glassine::photo

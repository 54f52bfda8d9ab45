#include "photo/formats.h"

#include <algorithm>
#include <csetjmp>
#include <cstring>
#include <vector>

#include <fmt/format.h>
#include <png.h>

namespace glassine::photo {

namespace {

constexpr std::uint64_t most_png_memory = std::uint64_t{1} << 30;

/// Everything that libpng's jumps pass over lives here, outside the functions that call it.
struct Reading {
    Bytes file;
    std::size_t position = 0;
    png_structp png = nullptr;
    png_infop info = nullptr;
    std::uint32_t width = 0;
    std::uint32_t height = 0;
    std::uint32_t row = 0;
    int passes = 1;
    bool at_end_chunk = false;
    std::string error;
    std::vector<std::uint8_t> rows;  ///< one row, or all of an interlaced picture
    Shrink shrink;

    ~Reading() { png_destroy_read_struct(&png, &info, nullptr); }
};

void on_error(png_structp png, png_const_charp message) {
    static_cast<Reading*>(png_get_error_ptr(png))->error = message;
    png_longjmp(png, 1);
}

void on_warning(png_structp, png_const_charp) {}

void read_bytes(png_structp png, png_bytep into, std::size_t size) {
    auto& reading = *static_cast<Reading*>(png_get_io_ptr(png));
    if (!inside(reading.file.size(), reading.position, size)) {
        reading.position = reading.file.size();
        png_error(png, "the file ends");
    }
    std::memcpy(into, reading.file.data() + reading.position, size);
    reading.position += size;
}

/// Up to the first row: header, and the form in which rows are wanted (8 bits, red green blue).
bool begin(Reading& reading) {
    if (setjmp(png_jmpbuf(reading.png)) != 0) return false;
    png_set_read_fn(reading.png, &reading, &read_bytes);
    png_set_crc_action(reading.png, PNG_CRC_ERROR_QUIT, PNG_CRC_ERROR_QUIT);
    png_read_info(reading.png, reading.info);
    reading.width = png_get_image_width(reading.png, reading.info);
    reading.height = png_get_image_height(reading.png, reading.info);
    png_set_expand(reading.png);
    png_set_strip_16(reading.png);
    png_set_strip_alpha(reading.png);
    png_set_gray_to_rgb(reading.png);
    reading.passes = png_set_interlace_handling(reading.png);
    png_read_update_info(reading.png, reading.info);
    return true;
}

bool read_rows(Reading& reading) {
    if (setjmp(png_jmpbuf(reading.png)) != 0) return false;
    const std::size_t stride = png_get_rowbytes(reading.png, reading.info);
    for (int pass = 0; pass < reading.passes; ++pass)
        for (reading.row = 0; reading.row < reading.height; ++reading.row) {
            std::uint8_t* into =
                reading.rows.data() + (reading.passes > 1 ? stride * reading.row : 0);
            png_read_row(reading.png, into, nullptr);
            if (pass == reading.passes - 1 && reading.shrink.wanted()) reading.shrink.add(into);
        }
    reading.at_end_chunk = true;
    png_read_end(reading.png, nullptr);
    return true;
}

void judge(const Reading& reading, Decoded& out) {
    if (reading.at_end_chunk) {
        out.breaks(
            fmt::format("every line is there, but not the end of the PNG: {}", reading.error),
            reading.position);
    } else if (reading.height == 0) {
        out.breaks(fmt::format("damaged before the picture begins: {}", reading.error),
                   reading.position);
    } else {
        out.breaks(fmt::format("damaged near byte {}, from line {} of {} on: {}", reading.position,
                               reading.row, reading.height, reading.error),
                   reading.position, reading.row);
    }
}

}  // namespace

Decoded check_png(Bytes file, unsigned edge, Budget* budget) {
    Decoded out;
    Reading reading;
    reading.file = file;
    reading.png = png_create_read_struct(PNG_LIBPNG_VER_STRING, &reading, &on_error, &on_warning);
    if (reading.png != nullptr) reading.info = png_create_info_struct(reading.png);
    if (reading.info == nullptr) {
        out.why = "there is no memory to read it";
        return out;
    }
    const bool begun = begin(reading);
    out.width = reading.width;
    out.height = reading.height;
    if (!begun) {
        judge(reading, out);
        return out;
    }
    const std::uint64_t stride = png_get_rowbytes(reading.png, reading.info);
    const std::uint64_t memory = stride * (reading.passes > 1 ? reading.height : 1);
    if (memory > most_png_memory) {
        out.why = fmt::format("decoding it would take {} MB of memory", memory / 1'000'000);
        return out;
    }
    const auto leased = lease(budget, memory);
    reading.rows.resize(memory);
    reading.shrink = Shrink(reading.width, reading.height, edge);
    if (read_rows(reading)) {
        out.verdict = Verdict::whole;
        out.trailing_data = reading.position < file.size();
    } else {
        judge(reading, out);
    }
    out.thumbnail = reading.shrink.take();
    return out;
}

}  // namespace glassine::photo

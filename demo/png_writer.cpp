#include "metadata.h"
#include "pictures.h"
#include "scene.h"

#include <array>
#include <csetjmp>
#include <cstring>
#include <memory>
#include <stdexcept>
#include <vector>

#include <png.h>

namespace demo {

namespace {

/// libpng reports through a callback; it jumps back, so nothing with a destructor lies between.
struct Encoder {
    png_structp png = nullptr;
    png_infop info = nullptr;
    std::string bytes;
    std::array<char, 200> message{};

    Encoder() {
        png = png_create_write_struct(PNG_LIBPNG_VER_STRING, this, fail, ignore);
        if (png != nullptr) info = png_create_info_struct(png);
        if (info == nullptr) throw std::runtime_error("libpng: no memory");
        png_set_write_fn(png, this, append, nullptr);
    }
    Encoder(const Encoder&) = delete;
    Encoder& operator=(const Encoder&) = delete;
    ~Encoder() { png_destroy_write_struct(&png, &info); }

    [[noreturn]] static void fail(png_structp png, png_const_charp why) {
        auto* self = static_cast<Encoder*>(png_get_error_ptr(png));
        std::strncpy(self->message.data(), why, self->message.size() - 1);
        png_longjmp(png, 1);
    }
    static void ignore(png_structp /*png*/, png_const_charp /*why*/) {}
    static void append(png_structp png, png_bytep data, std::size_t size) {
        auto* self = static_cast<Encoder*>(png_get_io_ptr(png));
        self->bytes.append(reinterpret_cast<const char*>(data), size);
    }
};

struct Parts {
    std::string icc;
    std::string exif;
    std::vector<png_bytep> rows;
};

bool encode(Encoder& e, const Canvas& canvas, const PngOptions& options, Parts& parts) {
    if (setjmp(png_jmpbuf(e.png)) != 0) return false;
    png_set_IHDR(e.png, e.info, static_cast<png_uint_32>(canvas.width()),
                 static_cast<png_uint_32>(canvas.height()), 8, PNG_COLOR_TYPE_RGB,
                 options.interlaced ? PNG_INTERLACE_ADAM7 : PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    png_set_compression_level(e.png, 3);
    if (!parts.icc.empty()) {
        png_set_iCCP(e.png, e.info, "profile", PNG_COMPRESSION_TYPE_BASE,
                     reinterpret_cast<png_const_bytep>(parts.icc.data()),
                     static_cast<png_uint_32>(parts.icc.size()));
    }
    if (!parts.exif.empty()) {
        png_set_eXIf_1(e.png, e.info, static_cast<png_uint_32>(parts.exif.size()),
                       reinterpret_cast<png_bytep>(parts.exif.data()));
    }
    png_set_rows(e.png, e.info, parts.rows.data());
    png_write_png(e.png, e.info, PNG_TRANSFORM_IDENTITY, nullptr);
    return true;
}

}  // namespace

std::string png(const Shot& shot, const PngOptions& options) {
    Canvas canvas = draw_stored(shot, options.width, options.height);
    Parts parts;
    parts.icc = icc_profile(options.profile);
    if (options.exif) {
        parts.exif = exif_block(shot, {options.width, options.height, options.profile, {}});
    }
    for (int y = 0; y < canvas.height(); ++y) {
        parts.rows.push_back(const_cast<png_bytep>(canvas.row(y)));
    }
    auto encoder = std::make_unique<Encoder>();
    if (!encode(*encoder, canvas, options, parts)) {
        throw std::runtime_error(std::string("libpng: ") + encoder->message.data());
    }
    return std::move(encoder->bytes);
}

}  // namespace demo

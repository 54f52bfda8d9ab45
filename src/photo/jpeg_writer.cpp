#include "photo/jpeg_error.h"
#include "photo/raster.h"

#include <cstdlib>

namespace glassine::photo {

namespace {

/// Returns false when libjpeg gave up; `memory` is malloc's either way.
bool compress(const Raster& raster, int quality, unsigned char** memory, unsigned long* size) {
    JpegErrors errors;
    jpeg_compress_struct encoder;
    encoder.err = &errors.manager;
    if (setjmp(errors.jump) != 0) {
        jpeg_destroy_compress(&encoder);
        return false;
    }
    jpeg_create_compress(&encoder);
    jpeg_mem_dest(&encoder, memory, size);
    encoder.image_width = raster.width;
    encoder.image_height = raster.height;
    encoder.input_components = 3;
    encoder.in_color_space = JCS_RGB;
    jpeg_set_defaults(&encoder);
    jpeg_set_quality(&encoder, quality, TRUE);
    jpeg_start_compress(&encoder, TRUE);
    while (encoder.next_scanline < encoder.image_height) {
        JSAMPROW row = const_cast<JSAMPROW>(raster.at(0, encoder.next_scanline));
        jpeg_write_scanlines(&encoder, &row, 1);
    }
    jpeg_finish_compress(&encoder);
    jpeg_destroy_compress(&encoder);
    return true;
}

}  // namespace

std::string encode_jpeg(const Raster& raster, int quality) {
    if (raster.empty()) return {};
    unsigned char* memory = nullptr;
    unsigned long size = 0;
    const bool done = compress(raster, quality, &memory, &size);
    std::string out;
    if (done) out.assign(reinterpret_cast<const char*>(memory), size);
    std::free(memory);
    return out;
}

}  // namespace glassine::photo

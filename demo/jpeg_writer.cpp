#include "jpeg_writer.h"

#include "metadata.h"
#include "scene.h"

#include <algorithm>
#include <array>
#include <csetjmp>
#include <cstdio>
#include <cstdlib>
#include <memory>
#include <stdexcept>

#include <jpeglib.h>

namespace demo {

namespace {

constexpr std::size_t kSegmentLimit = 65533;  // of a segment's body: T.81 counts its length field

/// libjpeg reports through a callback; it jumps back, so nothing with a destructor lies between.
struct Trouble {
    jpeg_error_mgr manager;
    std::jmp_buf back;
    std::array<char, JMSG_LENGTH_MAX> message;
};

void fail(j_common_ptr info) {
    auto* trouble = reinterpret_cast<Trouble*>(info->err);
    info->err->format_message(info, trouble->message.data());
    std::longjmp(trouble->back, 1);
}

struct Encoder {
    jpeg_compress_struct info{};
    Trouble trouble{};
    unsigned char* bytes = nullptr;
    unsigned long size = 0;

    Encoder() = default;
    Encoder(const Encoder&) = delete;
    Encoder& operator=(const Encoder&) = delete;
    ~Encoder() {
        jpeg_destroy_compress(&info);
        std::free(bytes);
    }
};

void configure(jpeg_compress_struct& info, const Canvas& canvas, const JpegOptions& options) {
    info.image_width = static_cast<JDIMENSION>(canvas.width());
    info.image_height = static_cast<JDIMENSION>(canvas.height());
    info.input_components = 3;
    info.in_color_space = JCS_RGB;
    jpeg_set_defaults(&info);
    jpeg_set_quality(&info, options.quality, TRUE);
    info.comp_info[0].h_samp_factor = options.chroma_halved ? 2 : 1;
    info.comp_info[0].v_samp_factor = options.chroma_halved ? 2 : 1;
    info.restart_in_rows = options.restart_rows;
    if (options.progressive) jpeg_simple_progression(&info);
}

void write_rows(jpeg_compress_struct& info, const Canvas& canvas) {
    while (info.next_scanline < info.image_height) {
        auto* row = const_cast<JSAMPROW>(canvas.row(static_cast<int>(info.next_scanline)));
        jpeg_write_scanlines(&info, &row, 1);
    }
}

bool compress(Encoder& encoder, const Canvas& canvas, const JpegOptions& options,
              const JpegParts& parts) {
    encoder.info.err = jpeg_std_error(&encoder.trouble.manager);
    encoder.trouble.manager.error_exit = fail;
    if (setjmp(encoder.trouble.back) != 0) return false;
    jpeg_create_compress(&encoder.info);
    jpeg_mem_dest(&encoder.info, &encoder.bytes, &encoder.size);
    configure(encoder.info, canvas, options);
    jpeg_start_compress(&encoder.info, TRUE);
    for (const auto& part : parts.segments) {
        jpeg_write_marker(&encoder.info, JPEG_APP0 + part.first,
                          reinterpret_cast<const JOCTET*>(part.second.data()),
                          static_cast<unsigned>(part.second.size()));
    }
    if (!parts.icc.empty()) {
        jpeg_write_icc_profile(&encoder.info, reinterpret_cast<const JOCTET*>(parts.icc.data()),
                               static_cast<unsigned>(parts.icc.size()));
    }
    write_rows(encoder.info, canvas);
    jpeg_finish_compress(&encoder.info);
    return true;
}

std::string thumbnail_of(const Shot& shot, const JpegOptions& options) {
    JpegOptions small;
    small.width = 160;
    small.height = std::max(8, 160 * options.height / std::max(1, options.width));
    small.quality = 70;
    return encode_jpeg(draw_stored(shot, small.width, small.height), small, {});
}

}  // namespace

std::string encode_jpeg(const Canvas& canvas, const JpegOptions& options, const JpegParts& parts) {
    for (const auto& [number, body] : parts.segments) {
        if (body.size() > kSegmentLimit) {
            throw std::runtime_error("too much for one APP" + std::to_string(number) + " segment");
        }
    }
    auto encoder = std::make_unique<Encoder>();
    if (!compress(*encoder, canvas, options, parts)) {
        throw std::runtime_error(std::string("libjpeg: ") + encoder->trouble.message.data());
    }
    return {reinterpret_cast<const char*>(encoder->bytes), encoder->size};
}

std::string jpeg(const Shot& shot, const JpegOptions& options) {
    JpegParts parts;
    if (options.exif) {
        ExifExtras extras{options.width, options.height, options.profile, {}};
        if (options.thumbnail) extras.thumbnail = thumbnail_of(shot, options);
        parts.segments.emplace_back(1, std::string("Exif\0\0", 6) + exif_block(shot, extras));
    }
    if (!options.xmp.empty()) {
        std::string mark("http://ns.adobe.com/xap/1.0/\0", 29);
        parts.segments.emplace_back(1, mark + options.xmp);
    }
    if (!options.iptc_copyright.empty()) {
        parts.segments.emplace_back(13, iptc_segment(options.iptc_copyright));
    }
    parts.icc = icc_profile(options.profile);
    return encode_jpeg(draw_stored(shot, options.width, options.height), options, parts);
}

}  // namespace demo

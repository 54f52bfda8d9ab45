#include "metadata.h"
#include "pictures.h"
#include "scene.h"

#include <algorithm>
#include <memory>
#include <stdexcept>

#include <libheif/heif.h>

/// Asked for by the leak sanitizer, unused without it: x265 3.5 keeps a kilobyte of every encoder.
extern "C" const char* __lsan_default_suppressions() {  // NOLINT(bugprone-reserved-identifier)
    return "leak:libx265.so\n";
}

namespace demo {

namespace {

struct Release {
    void operator()(heif_context* context) const { heif_context_free(context); }
    void operator()(heif_encoder* encoder) const { heif_encoder_release(encoder); }
    void operator()(heif_image* image) const { heif_image_release(image); }
    void operator()(heif_image_handle* handle) const { heif_image_handle_release(handle); }
};

void must(const heif_error& error) {
    if (error.code != heif_error_Ok)
        throw std::runtime_error(std::string("libheif: ") + error.message);
}

std::unique_ptr<heif_image, Release> to_image(const Canvas& canvas) {
    heif_image* made = nullptr;
    must(heif_image_create(canvas.width(), canvas.height(), heif_colorspace_RGB,
                           heif_chroma_interleaved_RGB, &made));
    std::unique_ptr<heif_image, Release> image(made);
    must(heif_image_add_plane(made, heif_channel_interleaved, canvas.width(), canvas.height(), 8));
    int stride = 0;
    std::uint8_t* plane = heif_image_get_plane(made, heif_channel_interleaved, &stride);
    for (int y = 0; y < canvas.height(); ++y) {
        std::copy_n(canvas.row(y), canvas.width() * 3,
                    plane + static_cast<std::ptrdiff_t>(y) * stride);
    }
    return image;
}

std::unique_ptr<heif_encoder, Release> hevc_encoder(heif_context* context, int quality) {
    heif_encoder* made = nullptr;
    must(heif_context_get_encoder_for_format(context, heif_compression_HEVC, &made));
    std::unique_ptr<heif_encoder, Release> encoder(made);
    must(heif_encoder_set_lossy_quality(made, quality));
    return encoder;
}

heif_error append(heif_context* /*context*/, const void* data, std::size_t size, void* bytes) {
    static_cast<std::string*>(bytes)->append(static_cast<const char*>(data), size);
    return {heif_error_Ok, heif_suberror_Unspecified, ""};
}

}  // namespace

std::string heif(const Shot& shot, const HeifOptions& options) {
    std::unique_ptr<heif_context, Release> context(heif_context_alloc());
    auto image = to_image(draw_upright(shot, options.width, options.height));
    std::string icc = icc_profile(options.profile);
    if (!icc.empty()) {
        must(heif_image_set_raw_color_profile(image.get(), "prof", icc.data(), icc.size()));
    }
    auto encoder = hevc_encoder(context.get(), options.quality);
    heif_image_handle* made = nullptr;
    must(heif_context_encode_image(context.get(), image.get(), encoder.get(), nullptr, &made));
    std::unique_ptr<heif_image_handle, Release> handle(made);
    if (options.exif) {
        std::string exif = exif_block(shot, {options.width, options.height, options.profile, {}});
        must(heif_context_add_exif_metadata(context.get(), made, exif.data(),
                                            static_cast<int>(exif.size())));
    }
    if (!options.xmp.empty()) {
        must(heif_context_add_XMP_metadata(context.get(), made, options.xmp.data(),
                                           static_cast<int>(options.xmp.size())));
    }
    std::string bytes;
    heif_writer writer{1, append};
    must(heif_context_write(context.get(), &writer, &bytes));
    return bytes;
}

}  // namespace demo

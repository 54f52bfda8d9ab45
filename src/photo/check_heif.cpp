#include "photo/boxes.h"
#include "photo/formats.h"

#include <memory>

#include <fmt/format.h>
#include <libheif/heif.h>

namespace glassine::photo {

namespace {

template <class T, void (*release)(T*)>
struct Releaser {
    void operator()(T* object) const { release(object); }
};
void release_handle(heif_image_handle* handle) {
    heif_image_handle_release(handle);
}
void release_image(heif_image* image) {
    heif_image_release(image);
}
using Context = std::unique_ptr<heif_context, Releaser<heif_context, heif_context_free>>;
using Handle = std::unique_ptr<heif_image_handle, Releaser<heif_image_handle, release_handle>>;
using Image = std::unique_ptr<heif_image, Releaser<heif_image, release_image>>;

/// What libheif was not built for, or holds to be too large, is no damage.
bool not_supported(const heif_error& error) {
    return error.code == heif_error_Unsupported_feature ||
           error.code == heif_error_Unsupported_filetype ||
           error.code == heif_error_Memory_allocation_error ||
           error.subcode == heif_suberror_Security_limit_exceeded ||
           error.subcode == heif_suberror_Unsupported_codec;
}

void judge(const heif_error& error, Decoded& out) {
    const char* message = error.message == nullptr ? "no reason given" : error.message;
    if (not_supported(error))
        out.why = fmt::format("libheif cannot decode it: {}", message);
    else
        out.breaks(fmt::format("libheif finds it damaged: {}", message));
}

Raster shrunk(const heif_image* image, unsigned edge) {
    int stride = 0;
    const std::uint8_t* plane =
        heif_image_get_plane_readonly(image, heif_channel_interleaved, &stride);
    const int width = heif_image_get_width(image, heif_channel_interleaved);
    const int height = heif_image_get_height(image, heif_channel_interleaved);
    if (plane == nullptr || width <= 0 || height <= 0) return {};
    Shrink shrink(static_cast<std::uint32_t>(width), static_cast<std::uint32_t>(height), edge);
    for (int y = 0; y < height && shrink.wanted(); ++y)
        shrink.add(plane + static_cast<std::ptrdiff_t>(y) * stride);
    return shrink.take();
}

}  // namespace

Decoded check_heif(Bytes file, unsigned edge, Budget* budget) {
    Decoded out;
    if (const auto problem = check_boxes(file)) {
        out.breaks(problem->why, problem->offset);
        return out;
    }
    const Context context(heif_context_alloc());
    heif_context_set_max_decoding_threads(context.get(), 0);
    heif_error error = heif_context_read_from_memory_without_copy(context.get(), file.data(),
                                                                  file.size(), nullptr);
    if (error.code != heif_error_Ok) {
        judge(error, out);
        return out;
    }
    heif_image_handle* raw_handle = nullptr;
    error = heif_context_get_primary_image_handle(context.get(), &raw_handle);
    const Handle handle(raw_handle);
    if (error.code != heif_error_Ok) {
        judge(error, out);
        return out;
    }
    // libheif turns the picture as the file says: these are upright measures.
    out.width = static_cast<std::uint32_t>(heif_image_handle_get_width(handle.get()));
    out.height = static_cast<std::uint32_t>(heif_image_handle_get_height(handle.get()));
    // Planes of the codec, the picture put together, and red green blue.
    const auto leased = lease(budget, std::uint64_t{out.width} * out.height * 6);
    heif_image* raw_image = nullptr;
    error = heif_decode_image(handle.get(), &raw_image, heif_colorspace_RGB,
                              heif_chroma_interleaved_RGB, nullptr);
    const Image image(raw_image);
    if (error.code != heif_error_Ok) {
        judge(error, out);
        return out;
    }
    out.verdict = Verdict::whole;
    if (edge != 0) out.thumbnail = shrunk(image.get(), edge);
    return out;
}

}  // namespace glassine::photo

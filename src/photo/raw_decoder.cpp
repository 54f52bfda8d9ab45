#include "photo/raw_decoder.h"

#include "glassine/base/text.h"

#include <algorithm>

#include <fmt/format.h>
#include <libraw/libraw.h>

namespace glassine::photo {

namespace {

constexpr unsigned most_memory_mb = 1024;

/// What the decoder complained of first.
struct Complaint {
    bool made = false;
    std::optional<std::uint64_t> offset;
};

void on_damage(void* data, const char*, int offset) {
    auto& complaint = *static_cast<Complaint*>(data);
    if (complaint.made) return;
    complaint.made = true;
    if (offset >= 0) complaint.offset = static_cast<std::uint64_t>(offset);
}

template <std::size_t n>
std::string text_of(const char (&field)[n]) {
    const std::string_view all(field, n);
    return text::to_utf8(all.substr(0, all.find('\0')));
}

/// LibRaw's quarter turns as Exif orientation.
std::uint16_t orientation_of(int flip) {
    switch (flip) {
        case 3:
            return 3;
        case 5:
            return 8;
        case 6:
            return 6;
        default:
            return 1;
    }
}

}  // namespace

struct RawDecoder::Engine {
    Complaint complaint;
    LibRaw raw{LIBRAW_OPIONS_NO_DATAERR_CALLBACK | LIBRAW_OPIONS_NO_MEMERR_CALLBACK};
};

RawDecoder::RawDecoder(Bytes file) : engine_(std::make_unique<Engine>()) {
    LibRaw& raw = engine_->raw;
    raw.set_dataerror_handler(&on_damage, &engine_->complaint);
    raw.imgdata.params.max_raw_memory_mb = most_memory_mb;
    raw.imgdata.params.user_flip = 0;
    raw.imgdata.params.use_camera_wb = 1;
    raw.imgdata.params.half_size = 1;
    raw.imgdata.params.output_bps = 8;
    const int status = raw.open_buffer(const_cast<std::byte*>(file.data()), file.size());
    known_ = status == LIBRAW_SUCCESS;
    if (!known_) why_ = LibRaw::strerror(status);
}

RawDecoder::~RawDecoder() = default;

std::uint32_t RawDecoder::width() const {
    return engine_->raw.imgdata.sizes.width;
}

std::uint32_t RawDecoder::height() const {
    return engine_->raw.imgdata.sizes.height;
}

void RawDecoder::describe(Picture& picture) const {
    if (!known_) return;
    const libraw_data_t& data = engine_->raw.imgdata;
    if (picture.make.empty()) picture.make = text_of(data.idata.make);
    if (picture.model.empty()) {
        picture.model = text_of(data.idata.model);
        picture.orientation = orientation_of(data.sizes.flip);
    }
    if (picture.serial.empty()) picture.serial = text_of(data.shootinginfo.BodySerial);
}

std::uint64_t RawDecoder::unpacked_bytes() const {
    const auto& data = engine_->raw.imgdata;
    const std::uint64_t values = std::uint64_t{data.sizes.raw_width} * data.sizes.raw_height;
    return values * (data.idata.filters != 0 ? 2 : 8);
}

std::uint64_t RawDecoder::rendered_bytes() const {
    // Beside the values: a quarter of the pixels, four channels of 16 bits, and the finished bytes.
    const auto& sizes = engine_->raw.imgdata.sizes;
    return unpacked_bytes() + std::uint64_t{sizes.raw_width} * sizes.raw_height / 4 * 11;
}

RawDecoder::Unpacked RawDecoder::unpack() {
    const int status = engine_->raw.unpack();
    const Complaint& complaint = engine_->complaint;
    if (complaint.made || status == LIBRAW_DATA_ERROR || status == LIBRAW_IO_ERROR) {
        damage_offset_ = complaint.offset;
        why_ = complaint.offset
                   ? fmt::format("the sensor data are damaged near byte {}", *complaint.offset)
                   : std::string("the sensor data end too early or are damaged");
        return Unpacked::damaged;
    }
    if (status == LIBRAW_SUCCESS) return Unpacked::whole;
    why_ = LibRaw::strerror(status);
    return Unpacked::not_possible;
}

std::optional<RawDecoder::Plane> RawDecoder::plane() const {
    const auto& data = engine_->raw.imgdata;
    if (data.rawdata.raw_image == nullptr) return std::nullopt;
    return Plane{data.rawdata.raw_image, data.sizes.raw_width, data.sizes.raw_height,
                 data.sizes.raw_pitch / sizeof(std::uint16_t)};
}

std::string RawDecoder::embedded_jpeg() {
    LibRaw& raw = engine_->raw;
    if (!known_ || raw.unpack_thumb() != LIBRAW_SUCCESS) return {};
    const auto& thumbnail = raw.imgdata.thumbnail;
    if (thumbnail.tformat != LIBRAW_THUMBNAIL_JPEG || thumbnail.thumb == nullptr) return {};
    return {thumbnail.thumb, thumbnail.tlength};
}

Raster RawDecoder::render(unsigned edge) {
    LibRaw& raw = engine_->raw;
    if (!known_ || raw.imgdata.rawdata.raw_alloc == nullptr) return {};
    if (raw.dcraw_process() != LIBRAW_SUCCESS) return {};
    int status = 0;
    const std::unique_ptr<libraw_processed_image_t, void (*)(libraw_processed_image_t*)> image(
        raw.dcraw_make_mem_image(&status), &LibRaw::dcraw_clear_mem);
    if (!image || image->type != LIBRAW_IMAGE_BITMAP || image->bits != 8 || image->colors != 3)
        return {};
    Shrink shrink(image->width, image->height, edge);
    for (std::size_t y = 0; y < image->height; ++y)
        shrink.add(image->data + y * image->width * 3);
    return shrink.take();
}

}  // namespace glassine::photo

#include "photo/jpeg_source.h"

#include <algorithm>

namespace glassine::photo {

namespace {

/// jdhuff.c takes the fast path when there are 512 bytes for each block of an MCU.
constexpr std::size_t window_size = 511;

constexpr JOCTET end_mark[] = {0xFF, JPEG_EOI};

}  // namespace

JpegSource::JpegSource() {
    manager_.init_source = [](j_decompress_ptr) {};
    manager_.fill_input_buffer = &JpegSource::fill;
    manager_.skip_input_data = &JpegSource::skip;
    manager_.resync_to_restart = &jpeg_resync_to_restart;
    manager_.term_source = [](j_decompress_ptr) {};
}

void JpegSource::show(Bytes bytes, std::uint64_t offset) {
    begin_ = reinterpret_cast<const JOCTET*>(bytes.data());
    end_ = begin_ + bytes.size();
    offset_ = offset;
    step_to(begin_);
    kept_ = nullptr;
}

void JpegSource::step_to(const JOCTET* place) {
    manager_.next_input_byte = place;
    manager_.bytes_in_buffer = std::min<std::size_t>(end_ - place, window_size);
    window_ = place;
}

/// libjpeg sets its pointer back into the source only where a unit is complete, and the unit then
/// ends behind the first byte of the window in which it was read: an untouched pointer means an
/// unfinished unit.
const JOCTET* JpegSource::fall_back() const {
    const bool untouched = manager_.next_input_byte == window_;
    return untouched && kept_ != nullptr ? kept_ : manager_.next_input_byte;
}

std::size_t JpegSource::consumed() const {
    if (ended_) return end_ - begin_;
    return fall_back() - begin_;
}

std::uint64_t JpegSource::position() const {
    if (ended_) return offset_ + (end_ - begin_);
    return offset_ + consumed();
}

Bytes JpegSource::before_position(std::size_t count) const {
    if (ended_) return {};
    const std::size_t shown = consumed();
    const std::size_t given = std::min(shown, count);
    return std::as_bytes(std::span(begin_ + (shown - given), given));
}

boolean JpegSource::fill(j_decompress_ptr decoder) {
    auto& self = *reinterpret_cast<JpegSource*>(decoder->src);
    const JOCTET* back = self.fall_back();
    const JOCTET* next =
        self.window_ + std::min<std::size_t>(self.end_ - self.window_, window_size);
    if (next != self.end_) {
        self.kept_ = back;
        self.step_to(next);
        return TRUE;
    }
    if (self.ended_) {
        self.window_ = self.end_;
        self.manager_.next_input_byte = end_mark;
        self.manager_.bytes_in_buffer = sizeof end_mark;
        return TRUE;
    }
    self.manager_.next_input_byte = back;
    self.manager_.bytes_in_buffer = self.end_ - back;
    self.kept_ = nullptr;
    return FALSE;
}

void JpegSource::skip(j_decompress_ptr decoder, long bytes) {
    if (bytes <= 0) return;
    auto& self = *reinterpret_cast<JpegSource*>(decoder->src);
    if (self.ended_ && self.window_ == self.end_) return;
    const auto wanted = static_cast<std::uint64_t>(bytes);
    const JOCTET* from = self.manager_.next_input_byte;
    const auto there = std::min<std::uint64_t>(self.end_ - from, wanted);
    self.to_skip_ += wanted - there;
    self.step_to(from + there);
    self.kept_ = nullptr;
}

}  // namespace glassine::photo

#include "photo/jpeg_head.h"

#include <algorithm>

namespace glassine::photo {

namespace {

// ITU-T T.81, table B.1.
constexpr std::uint8_t soi = 0xD8;
constexpr std::uint8_t eoi = 0xD9;
constexpr std::uint8_t sos = 0xDA;
constexpr std::uint8_t tem = 0x01;

constexpr bool stands_alone(std::uint8_t marker) {
    return marker == tem || (marker >= 0xD0 && marker <= 0xD9);
}

/// SOF0 to SOF15 but DHT (C4), JPG (C8) and DAC (CC).
constexpr bool is_frame(std::uint8_t marker) {
    return marker >= 0xC0 && marker <= 0xCF && marker != 0xC4 && marker != 0xC8 && marker != 0xCC;
}
/// SOF2, 6, 10, 14: the low two bits say "progressive".
constexpr bool is_progressive(std::uint8_t frame) {
    return (frame & 3) == 2;
}
constexpr bool is_arithmetic(std::uint8_t frame) {
    return frame >= 0xC9;
}

std::uint8_t byte_at(Bytes bytes, std::size_t at) {
    return std::to_integer<std::uint8_t>(bytes[at]);
}

/// Two bytes a coefficient, for whole blocks of every component (T.81 A.1.1, A.2.4).
std::uint64_t coefficient_memory(Bytes components, std::uint32_t width, std::uint32_t height) {
    unsigned widest = 1;
    unsigned tallest = 1;
    for (std::size_t i = 1; i < components.size(); i += 3) {
        widest = std::max<unsigned>(widest, byte_at(components, i) >> 4);
        tallest = std::max<unsigned>(tallest, byte_at(components, i) & 15);
    }
    const std::uint64_t across = (width + 8 * widest - 1) / (8 * widest);
    const std::uint64_t down = (height + 8 * tallest - 1) / (8 * tallest);
    std::uint64_t blocks = 0;
    for (std::size_t i = 1; i < components.size(); i += 3)
        blocks += across * (byte_at(components, i) >> 4) * down * (byte_at(components, i) & 15);
    return blocks * 64 * 2;
}

}  // namespace

JpegHead::State JpegHead::advance(Bytes bytes) {
    while (state_ == State::more) {
        const std::size_t before = at_;
        state_ = scan(bytes);
        if (at_ == before) break;
    }
    return state_;
}

/// Steps over one marker; leaves `at_` where it was when more bytes are needed.
JpegHead::State JpegHead::scan(Bytes bytes) {
    std::size_t at = at_;
    if (at + 2 > bytes.size()) return State::more;
    if (byte_at(bytes, at) != 0xFF) return State::odd;
    while (byte_at(bytes, at + 1) == 0xFF) {  // fill bytes (T.81 B.1.1.2)
        if (++at + 2 > bytes.size()) return State::more;
    }
    const std::uint8_t marker = byte_at(bytes, at + 1);
    if ((at_ == 0) != (marker == soi) || marker == eoi || marker == 0) return State::odd;
    if (stands_alone(marker)) {
        at_ = at + 2;
        return State::more;
    }
    if (at + 4 > bytes.size()) return State::more;
    const std::size_t length = std::size_t{byte_at(bytes, at + 2)} << 8 | byte_at(bytes, at + 3);
    if (length < 2) return State::odd;
    if (at + 2 + length > bytes.size()) return State::more;
    const Bytes body = bytes.subspan(at + 4, length - 2);
    if (marker == sos) {
        if (components_ == 0 || body.empty()) return State::odd;
        const bool one_scan = byte_at(body, 0) == components_ && !progressive_;
        if (!one_scan) coefficient_bytes_ = frame_bytes_;
        needs_whole_ = needs_whole_ || !one_scan;
        at_ = at;
        return State::ready;
    }
    if (is_frame(marker) && frame(body, marker) == State::odd) return State::odd;
    segments_.push_back({marker, at + 4, length - 2});
    at_ = at + 2 + length;
    return State::more;
}

JpegHead::State JpegHead::frame(Bytes body, std::uint8_t marker) {
    if (body.size() < 6 || components_ != 0) return State::odd;
    height_ = static_cast<std::uint32_t>(byte_at(body, 1) << 8 | byte_at(body, 2));
    width_ = static_cast<std::uint32_t>(byte_at(body, 3) << 8 | byte_at(body, 4));
    components_ = byte_at(body, 5);
    if (components_ == 0 || body.size() != 6 + std::size_t{3} * components_) return State::odd;
    progressive_ = is_progressive(marker);
    needs_whole_ = is_arithmetic(marker);
    frame_bytes_ = coefficient_memory(body.subspan(6), width_, height_);
    return State::more;
}

}  // namespace glassine::photo

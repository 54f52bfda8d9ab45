#pragma once

#include "photo/bytes.h"

#include <vector>

namespace glassine::photo {

/// A marker segment before the first scan.
struct JpegSegment {
    std::uint8_t marker = 0;
    std::size_t offset = 0;  ///< of the body, behind the length field
    std::size_t length = 0;  ///< of the body
};

/// Reads the segments of a JPEG up to its first scan (ITU-T T.81 B.1, B.2), as their bytes come.
///
/// Nothing is judged here: whatever does not read as plain segments is `odd`, and libjpeg has the
/// word.
class JpegHead {
  public:
    enum class State { more, ready, odd };

    /// `bytes` are all bytes of the file so far; each call goes on where the last one stopped.
    State advance(Bytes bytes);
    State state() const { return state_; }

    const std::vector<JpegSegment>& segments() const { return segments_; }
    /// With `ready`: where the marker of the first scan stands.
    std::size_t scan_offset() const { return at_; }
    std::uint32_t width() const { return width_; }
    std::uint32_t height() const { return height_; }
    /// libjpeg needs all bytes at once: several scans, or arithmetic coding (whose decoder cannot
    /// wait in the middle of a row).
    bool needs_whole() const { return needs_whole_; }
    /// What libjpeg keeps in memory to join several scans; 0 when one scan holds all components.
    std::uint64_t coefficient_bytes() const { return coefficient_bytes_; }

  private:
    State scan(Bytes bytes);
    State frame(Bytes body, std::uint8_t marker);

    State state_ = State::more;
    std::size_t at_ = 0;
    std::vector<JpegSegment> segments_;
    std::uint32_t width_ = 0;
    std::uint32_t height_ = 0;
    unsigned components_ = 0;
    bool needs_whole_ = false;
    bool progressive_ = false;
    std::uint64_t frame_bytes_ = 0;
    std::uint64_t coefficient_bytes_ = 0;
};

}  // namespace glassine::photo

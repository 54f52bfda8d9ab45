#pragma once

#include "photo/bytes.h"

#include <cstdio>

#include <jpeglib.h>

namespace glassine::photo {

/// Gives libjpeg the bytes that are there and makes it wait (suspend) for those that are not.
///
/// The bytes are shown in windows too small for libjpeg-turbo's fast Huffman path: only the careful
/// path reports codes that do not exist, the fast one takes them for zeros in silence. `djpeg`,
/// whose buffer is 4 KiB, runs through both. Moving on to the next window is not a suspension, so
/// the place to which the decoder falls back when the bytes run out must be remembered here.
class JpegSource {
  public:
    JpegSource();
    JpegSource(const JpegSource&) = delete;
    JpegSource& operator=(const JpegSource&) = delete;

    void attach(jpeg_decompress_struct& decoder) { decoder.src = &manager_; }
    /// Shows `bytes`, whose first one stands at `offset` of the file.
    void show(Bytes bytes, std::uint64_t offset);
    /// How many of the shown bytes the decoder is done with.
    std::size_t consumed() const;
    /// Bytes still to be passed over before anything is shown.
    std::uint64_t to_skip() const { return to_skip_; }
    void skipped(std::uint64_t bytes) { to_skip_ -= bytes; }
    /// Where in the file the decoder reads: exact for markers, the beginning of the unit inside
    /// scans.
    std::uint64_t position() const;
    /// The last `count` bytes before `position`, as far as they are still shown.
    Bytes before_position(std::size_t count) const;
    /// From now on there is nothing but end marks.
    void end() { ended_ = true; }

  private:
    static boolean fill(j_decompress_ptr decoder);
    static void skip(j_decompress_ptr decoder, long bytes);
    void step_to(const JOCTET* place);
    const JOCTET* fall_back() const;

    jpeg_source_mgr manager_{};  ///< first: libjpeg hands back its address
    const JOCTET* begin_ = nullptr;
    const JOCTET* end_ = nullptr;
    const JOCTET* window_ = nullptr;  ///< where the last window began
    const JOCTET* kept_ = nullptr;    ///< where the unit under way began, when in an earlier window
    std::uint64_t offset_ = 0;
    std::uint64_t to_skip_ = 0;
    bool ended_ = false;
};

}  // namespace glassine::photo

#pragma once

#include "photo/bytes.h"
#include "photo/decoded.h"

#include <cstdint>
#include <memory>

namespace glassine::photo {

/// Decodes a JPEG to its last line while its bytes come, by libjpeg-turbo.
///
/// All entropy-coded data of all scans go through the Huffman (or arithmetic) decoder, where all of
/// libjpeg's judgements on damage are made; the pixels behind it are only made as large as the
/// thumbnail needs them (scaled inverse DCT), which no judgement depends on. Every warning that
/// means damage counts as broken; the first one says where.
///
/// Bytes may be handed over in any pieces if `JpegHead` does not say `needs_whole`; else all at
/// once.
class JpegDecoder {
  public:
    /// `thumbnail_edge` 0: no thumbnail.
    explicit JpegDecoder(unsigned thumbnail_edge);
    ~JpegDecoder();

    void feed(Bytes bytes);
    /// No more bytes come.
    Decoded finish();

  private:
    struct State;
    std::unique_ptr<State> state_;
};

/// All at once. `at_most` bounds what libjpeg may take to join several scans; past it
/// `not_checkable`.
Decoded decode_jpeg(Bytes bytes, unsigned thumbnail_edge,
                    std::uint64_t at_most = std::uint64_t{1} << 30);

}  // namespace glassine::photo

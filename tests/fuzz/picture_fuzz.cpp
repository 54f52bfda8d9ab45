#include "glassine/photo/examine.h"
#include "photo/jpeg_decoder.h"

#include <cstdint>
#include <string>

/// The first byte chooses the name that the bytes are examined under, and what is wished for; the
/// rest is the file. JPEGs also go through the decoder in two pieces, which must not change the
/// verdict.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    using namespace glassine::photo;
    if (size == 0) return 0;
    constexpr const char* names[] = {"a.jpg", "a.tif", "a.dng",  "a.nef", "a.raf",
                                     "a.cr3", "a.png", "a.heic", "a.xmp"};
    const std::uint8_t choice = data[0];
    const auto file = std::as_bytes(std::span(data + 1, size - 1));
    const Wishes wishes{choice >= 128 ? 64u : 0u, choice >= 192};
    const Examined whole = examine(file, names[choice % std::size(names)], wishes);
    if (whole.picture.kind != Kind::jpeg) return 0;

    JpegDecoder decoder(0);
    decoder.feed(file.first(file.size() / 2));
    decoder.feed(file.subspan(file.size() / 2));
    const Decoded pieces = decoder.finish();
    (void)pieces;
    return 0;
}

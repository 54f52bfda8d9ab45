#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>

/// A JPEG that stands for a raw: what a rejected frame leaves behind, and what contact sheets show.
namespace glassine::photo {

/// Where a proxy came from.
enum class ProxySource {
    none,
    embedded,  ///< the largest JPEG preview inside the raw that decodes to its last line
    rendered,  ///< developed at half size by LibRaw, because there is no such preview
};

struct Proxy {
    std::string jpeg;  ///< a whole JPEG file, checked to decode; empty when there is none
    ProxySource source = ProxySource::none;
    std::uint32_t width = 0;  ///< pixels as stored
    std::uint32_t height = 0;
    std::string why;  ///< when there is none: one sentence
};

/// Makes the proxy of a raw held in memory. The raw's orientation and capture metadata (camera,
/// body serial, time with sub-seconds and offset, exposure, lens, creator, rights, rating, place)
/// go into the proxy's own Exif and XMP; makers' notes do not, since they may hold absolute
/// offsets. Pictures are neither turned nor recompressed when they come from an embedded preview.
/// An embedded preview of less than `smallest_edge` pixels on its long edge is taken only when
/// nothing larger can be had.
///
/// Never throws because of what the file holds.
Proxy make_proxy(std::span<const std::byte> raw, std::uint32_t smallest_edge = 1000);

}  // namespace glassine::photo

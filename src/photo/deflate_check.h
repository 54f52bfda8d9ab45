#pragma once

#include <cstddef>
#include <span>

namespace glassine::photo {

/// Whether a zlib stream (RFC 1950) contradicts itself: codes that mean nothing, or data that do
/// not have the check value at the stream's end. A stream that only lacks its end does not; whether
/// all of the picture came out is the decoder's business.
///
/// libtiff takes a strip as unpacked once it is full, so it does not see damage that makes one
/// longer.
bool contradicts_itself(std::span<const std::byte> zlib_stream);

}  // namespace glassine::photo

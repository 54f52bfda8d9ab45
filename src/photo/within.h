#pragma once

#include "glassine/photo/examine.h"
#include "glassine/photo/preview.h"
#include "photo/budget.h"
#include "photo/bytes.h"
#include "photo/decoded.h"

/// The public functions with the budget of a sink; nullptr for none.
namespace glassine::photo {

inline constexpr std::uint32_t smallest_proxy_edge = 1000;

Proxy make_proxy_within(Bytes raw, std::uint32_t smallest_edge, Budget* budget);
Examined examine_within(Bytes bytes, std::string_view name, const Wishes& wishes, Budget* budget);

/// What decoding showed goes into the picture; the thumbnail is turned upright and brought to sRGB.
Examined conclude(Picture picture, Decoded decoded);

}  // namespace glassine::photo

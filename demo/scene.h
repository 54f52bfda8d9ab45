#pragma once

#include "canvas.h"
#include "pictures.h"

namespace demo {

/// What the shot shows, upright, at this size. The same shot at another size is the same picture.
Canvas draw_upright(const Shot& shot, int width, int height);

/// As the file stores it: `width` x `height` pixels, turned for the shot's orientation.
Canvas draw_stored(const Shot& shot, int width, int height);

/// The shot as an RGGB sensor of this size records it: 12-bit values from 256 (black) to 4095,
/// linear in light, rows from the top.
std::vector<std::uint16_t> expose_sensor(const Shot& shot, int width, int height);

inline constexpr std::uint16_t kSensorBlack = 256;
inline constexpr std::uint16_t kSensorWhite = 4095;

}  // namespace demo

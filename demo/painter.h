#pragma once

#include "canvas.h"
#include "pictures.h"

namespace demo {

/// Draws what the shot shows onto an empty canvas, upright.
void paint(const Shot& shot, Canvas& canvas);

}  // namespace demo

#pragma once

#include "canvas.h"
#include "pictures.h"

namespace demo {

/// The light of one hour of the day.
struct Light {
    float hour;
    Color zenith;
    Color horizon;
    Color sea_far;
    Color sea_near;
    Color land;
    Color sun;
};

/// The light in which the shot was taken, by the camera's clock.
Light light_of(const Shot& shot);

}  // namespace demo

#include "light.h"

#include <array>
#include <chrono>

namespace demo {

namespace {

constexpr std::array<Light, 6> kLights{{
    {5,
     {.20F, .27F, .44F},
     {.93F, .70F, .62F},
     {.62F, .58F, .64F},
     {.16F, .24F, .36F},
     {.22F, .24F, .32F},
     {1, .86F, .70F}},
    {9,
     {.36F, .60F, .86F},
     {.90F, .92F, .90F},
     {.48F, .68F, .76F},
     {.10F, .33F, .46F},
     {.36F, .48F, .42F},
     {1, .97F, .86F}},
    {13,
     {.22F, .50F, .84F},
     {.78F, .89F, .96F},
     {.36F, .64F, .78F},
     {.05F, .30F, .48F},
     {.34F, .50F, .36F},
     {1, 1, .95F}},
    {18,
     {.38F, .50F, .74F},
     {.99F, .86F, .66F},
     {.74F, .70F, .62F},
     {.14F, .27F, .38F},
     {.36F, .38F, .30F},
     {1, .91F, .66F}},
    {20,
     {.28F, .26F, .50F},
     {.98F, .58F, .38F},
     {.82F, .50F, .42F},
     {.16F, .15F, .28F},
     {.20F, .17F, .24F},
     {1, .72F, .42F}},
    {23,
     {.04F, .06F, .16F},
     {.16F, .18F, .34F},
     {.12F, .16F, .28F},
     {.03F, .05F, .10F},
     {.05F, .06F, .10F},
     {.94F, .94F, .86F}},
}};

float hour_of(const Shot& shot) {
    auto since = shot.captured - std::chrono::floor<std::chrono::days>(shot.captured);
    return std::chrono::duration<float, std::ratio<3600>>(since).count();
}

Light light_at(float hour) {
    if (hour <= kLights.front().hour) return kLights.front();
    for (std::size_t i = 1; i < kLights.size(); ++i) {
        const Light& a = kLights[i - 1];
        const Light& b = kLights[i];
        if (hour > b.hour) continue;
        float part = (hour - a.hour) / (b.hour - a.hour);
        return {hour,
                mix(a.zenith, b.zenith, part),
                mix(a.horizon, b.horizon, part),
                mix(a.sea_far, b.sea_far, part),
                mix(a.sea_near, b.sea_near, part),
                mix(a.land, b.land, part),
                mix(a.sun, b.sun, part)};
    }
    return kLights.back();
}

}  // namespace

Light light_of(const Shot& shot) {
    return light_at(hour_of(shot));
}

}  // namespace demo

#include "scene.h"

#include "painter.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace demo {

namespace {

/// Light for a coded sRGB value (IEC 61966-2-1), scaled to the sensor's range.
std::array<std::uint16_t, 256> sensor_curve() {
    std::array<std::uint16_t, 256> curve{};
    for (int i = 0; i < 256; ++i) {
        float v = static_cast<float>(i) / 255.0F;
        float linear = v <= .04045F ? v / 12.92F : std::pow((v + .055F) / 1.055F, 2.4F);
        curve[static_cast<std::size_t>(i)] = static_cast<std::uint16_t>(
            kSensorBlack + linear * static_cast<float>(kSensorWhite - kSensorBlack) * .9F);
    }
    return curve;
}

}  // namespace

Canvas draw_upright(const Shot& shot, int width, int height) {
    Canvas canvas(width, height);
    paint(shot, canvas);
    canvas.grain(shot.grain, 3);
    return canvas;
}

Canvas draw_stored(const Shot& shot, int width, int height) {
    bool turned = shot.orientation >= 5 && shot.orientation <= 8;
    Canvas upright = turned ? draw_upright(shot, height, width) : draw_upright(shot, width, height);
    return shot.orientation == 1 ? upright : upright.stored(shot.orientation);
}

std::vector<std::uint16_t> expose_sensor(const Shot& shot, int width, int height) {
    static const std::array<std::uint16_t, 256> curve = sensor_curve();
    Canvas canvas = draw_stored(shot, width, height);
    Dice dice(shot.grain ^ 0x5EED);
    std::vector<std::uint16_t> sensor;
    sensor.reserve(static_cast<std::size_t>(width) * static_cast<std::size_t>(height));
    for (int y = 0; y < height; ++y) {
        for (int x = 0; x < width; ++x) {
            int channel = (x % 2) + (y % 2);  // red, green / green, blue
            int value = curve[canvas.pixel(x, y)[channel]] + dice.below(24) - 12;
            sensor.push_back(static_cast<std::uint16_t>(std::clamp<int>(value, 0, kSensorWhite)));
        }
    }
    return sensor;
}

}  // namespace demo

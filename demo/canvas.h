#pragma once

#include <cstdint>
#include <span>
#include <vector>

/// Drawing in memory, just enough for a harbour.
namespace demo {

/// sRGB-encoded, 0 to 1.
struct Color {
    float r = 0;
    float g = 0;
    float b = 0;
};

Color mix(Color a, Color b, float part_of_b);

/// In units of the picture's height: y runs from 0 (top) to 1, x from 0 to the aspect ratio.
struct Point {
    float x = 0;
    float y = 0;
};

/// Small, fast and the same on every machine (splitmix64).
class Dice {
  public:
    explicit Dice(std::uint64_t seed) : state_(seed) {}
    std::uint64_t next();
    float unit();                          ///< [0, 1)
    float between(float low, float high);  ///< [low, high)
    int below(int n);                      ///< 0 .. n-1

  private:
    std::uint64_t state_;
};

/// 8 bits RGB, rows from the top.
class Canvas {
  public:
    Canvas(int width, int height);

    int width() const { return width_; }
    int height() const { return height_; }
    float aspect() const { return static_cast<float>(width_) / static_cast<float>(height_); }
    const std::uint8_t* row(int y) const { return pixels_.data() + offset(0, y); }
    const std::uint8_t* pixel(int x, int y) const { return pixels_.data() + offset(x, y); }

    /// A vertical gradient over the rows from `top` to `bottom`.
    void gradient(float top, float bottom, Color above, Color below);
    /// Any simple outline, edges smoothed.
    void fill(std::span<const Point> outline, Color color, float opacity = 1);
    void disc(Point centre, float radius, Color color, float opacity = 1);
    void line(Point from, Point to, float thickness, Color color, float opacity = 1);
    /// Noise of a sensor: every sample moves by up to `amount` of 255.
    void grain(std::uint64_t seed, int amount);

    /// The picture as a camera held at `orientation` (Exif 1 to 8) stores it.
    Canvas stored(std::uint16_t orientation) const;

  private:
    std::size_t offset(int x, int y) const {
        return (static_cast<std::size_t>(y) * static_cast<std::size_t>(width_) +
                static_cast<std::size_t>(x)) *
               3;
    }
    void blend(int y, int first, std::span<const float> coverage, Color color, float opacity);

    int width_;
    int height_;
    std::vector<std::uint8_t> pixels_;
};

}  // namespace demo

#include "canvas.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace demo {

namespace {

constexpr int kSubrows = 4;  // vertical samples a pixel: smooth enough for slanted edges

std::uint8_t to_byte(float value) {
    return static_cast<std::uint8_t>(std::clamp(value, 0.0F, 1.0F) * 255.0F + 0.5F);
}

/// Where the outline crosses the horizontal line at y, from left to right.
void crossings(std::span<const Point> outline, float y, float scale, std::vector<float>& at) {
    at.clear();
    for (std::size_t i = 0; i < outline.size(); ++i) {
        const Point& a = outline[i];
        const Point& b = outline[(i + 1) % outline.size()];
        if ((a.y * scale <= y) == (b.y * scale <= y)) continue;
        float part = (y - a.y * scale) / ((b.y - a.y) * scale);
        at.push_back((a.x + (b.x - a.x) * part) * scale);
    }
    std::sort(at.begin(), at.end());
}

/// Adds the part of each pixel that lies between `from` and `to`.
void cover(std::span<float> coverage, float from, float to) {
    from = std::max(from, 0.0F);
    to = std::min(to, static_cast<float>(coverage.size()));
    if (to <= from) return;
    auto first = static_cast<std::size_t>(from);
    auto last = std::min(static_cast<std::size_t>(to), coverage.size() - 1);
    constexpr float weight = 1.0F / kSubrows;
    if (first == last) {
        coverage[first] += (to - from) * weight;
        return;
    }
    coverage[first] += (static_cast<float>(first + 1) - from) * weight;
    for (std::size_t x = first + 1; x < last; ++x)
        coverage[x] += weight;
    coverage[last] += (to - static_cast<float>(last)) * weight;
}

}  // namespace

Color mix(Color a, Color b, float part_of_b) {
    return {a.r + (b.r - a.r) * part_of_b, a.g + (b.g - a.g) * part_of_b,
            a.b + (b.b - a.b) * part_of_b};
}

std::uint64_t Dice::next() {
    std::uint64_t z = (state_ += 0x9E3779B97F4A7C15U);
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9U;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBU;
    return z ^ (z >> 31U);
}

float Dice::unit() {
    return static_cast<float>(next() >> 40U) / 16777216.0F;
}
float Dice::between(float low, float high) {
    return low + (high - low) * unit();
}
int Dice::below(int n) {
    return static_cast<int>(next() % static_cast<std::uint64_t>(n));
}

Canvas::Canvas(int width, int height)
    : width_(width),
      height_(height),
      pixels_(static_cast<std::size_t>(width) * static_cast<std::size_t>(height) * 3) {}

void Canvas::gradient(float top, float bottom, Color above, Color below) {
    int first = std::clamp(static_cast<int>(top * static_cast<float>(height_)), 0, height_);
    int last = std::clamp(static_cast<int>(bottom * static_cast<float>(height_)), 0, height_);
    for (int y = first; y < last; ++y) {
        float part = static_cast<float>(y - first) / static_cast<float>(last - first);
        Color c = mix(above, below, part);
        const std::array<std::uint8_t, 3> rgb{to_byte(c.r), to_byte(c.g), to_byte(c.b)};
        std::uint8_t* out = pixels_.data() + offset(0, y);
        for (int x = 0; x < width_; ++x, out += 3)
            std::copy(rgb.begin(), rgb.end(), out);
    }
}

void Canvas::blend(int y, int first, std::span<const float> coverage, Color color, float opacity) {
    std::uint8_t* out = pixels_.data() + offset(first, y);
    for (float covered : coverage) {
        float part = std::min(covered, 1.0F) * opacity;
        if (part > 0) {
            out[0] = to_byte(static_cast<float>(out[0]) / 255.0F * (1 - part) + color.r * part);
            out[1] = to_byte(static_cast<float>(out[1]) / 255.0F * (1 - part) + color.g * part);
            out[2] = to_byte(static_cast<float>(out[2]) / 255.0F * (1 - part) + color.b * part);
        }
        out += 3;
    }
}

void Canvas::fill(std::span<const Point> outline, Color color, float opacity) {
    auto scale = static_cast<float>(height_);
    auto [left, right] = std::minmax_element(outline.begin(), outline.end(),
                                             [](Point a, Point b) { return a.x < b.x; });
    auto [top, bottom] = std::minmax_element(outline.begin(), outline.end(),
                                             [](Point a, Point b) { return a.y < b.y; });
    int x0 = std::clamp(static_cast<int>(std::floor(left->x * scale)), 0, width_);
    int x1 = std::clamp(static_cast<int>(std::ceil(right->x * scale)) + 1, 0, width_);
    int y0 = std::clamp(static_cast<int>(std::floor(top->y * scale)), 0, height_);
    int y1 = std::clamp(static_cast<int>(std::ceil(bottom->y * scale)) + 1, 0, height_);
    if (x0 >= x1) return;

    std::vector<float> coverage(static_cast<std::size_t>(x1 - x0));
    std::vector<float> at;
    for (int y = y0; y < y1; ++y) {
        std::fill(coverage.begin(), coverage.end(), 0.0F);
        for (int sub = 0; sub < kSubrows; ++sub) {
            float line = static_cast<float>(y) + (static_cast<float>(sub) + 0.5F) / kSubrows;
            crossings(outline, line, scale, at);
            for (std::size_t i = 0; i + 1 < at.size(); i += 2) {
                cover(coverage, at[i] - static_cast<float>(x0), at[i + 1] - static_cast<float>(x0));
            }
        }
        blend(y, x0, coverage, color, opacity);
    }
}

void Canvas::disc(Point centre, float radius, Color color, float opacity) {
    constexpr int corners = 36;
    std::array<Point, corners> outline;
    for (int i = 0; i < corners; ++i) {
        float angle = 6.2831853F * static_cast<float>(i) / corners;
        outline[static_cast<std::size_t>(i)] = {centre.x + radius * std::cos(angle),
                                                centre.y + radius * std::sin(angle)};
    }
    fill(outline, color, opacity);
}

void Canvas::line(Point from, Point to, float thickness, Color color, float opacity) {
    float dx = to.x - from.x;
    float dy = to.y - from.y;
    float length = std::max(std::hypot(dx, dy), 1e-6F);
    float nx = -dy / length * thickness / 2;
    float ny = dx / length * thickness / 2;
    const std::array<Point, 4> outline{Point{from.x + nx, from.y + ny}, Point{to.x + nx, to.y + ny},
                                       Point{to.x - nx, to.y - ny},
                                       Point{from.x - nx, from.y - ny}};
    fill(outline, color, opacity);
}

void Canvas::grain(std::uint64_t seed, int amount) {
    if (amount <= 0) return;
    Dice dice(seed);
    const auto span = static_cast<std::uint64_t>(2 * amount + 1);
    std::uint64_t bits = 0;
    int left = 0;
    for (std::uint8_t& sample : pixels_) {
        if (left == 0) {
            bits = dice.next();
            left = 8;
        }
        int step = static_cast<int>(((bits & 0xFFU) * span) >> 8U) - amount;
        sample = static_cast<std::uint8_t>(std::clamp(static_cast<int>(sample) + step, 0, 255));
        bits >>= 8U;
        --left;
    }
}

Canvas Canvas::stored(std::uint16_t orientation) const {
    if (orientation <= 1 || orientation > 8) return *this;
    bool turned = orientation >= 5;
    Canvas out(turned ? height_ : width_, turned ? width_ : height_);
    // Which side of the upright picture the stored rows and columns start from (Exif 2.32, tag
    // 0112): 3, 4, 7, 8 are bottom or right for one of them, see the cases.
    for (int r = 0; r < out.height_; ++r) {
        for (int c = 0; c < out.width_; ++c) {
            int x = turned ? r : c;
            int y = turned ? c : r;
            bool from_right =
                orientation == 2 || orientation == 3 || orientation == 6 || orientation == 7;
            bool from_bottom =
                orientation == 3 || orientation == 4 || orientation == 7 || orientation == 8;
            const std::uint8_t* in =
                pixel(from_right ? width_ - 1 - x : x, from_bottom ? height_ - 1 - y : y);
            std::copy(in, in + 3, out.pixels_.data() + out.offset(c, r));
        }
    }
    return out;
}

}  // namespace demo

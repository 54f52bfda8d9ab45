#include "painter.h"

#include "light.h"

#include <array>
#include <cmath>
#include <vector>

namespace demo {

namespace {

constexpr std::array<Color, 8> kCloth{{{.95F, .94F, .90F},
                                       {.84F, .22F, .20F},
                                       {.14F, .30F, .58F},
                                       {.96F, .76F, .22F},
                                       {.20F, .52F, .46F},
                                       {.90F, .50F, .30F},
                                       {.98F, .98F, .98F},
                                       {.52F, .24F, .42F}}};

/// Draws one view; every part takes its own throws of the dice, in a fixed order.
class Painter {
  public:
    Painter(const Shot& shot, Canvas& canvas)
        : canvas_(canvas),
          dice_(shot.scene * 7919),
          light_(light_of(shot)),
          moment_(static_cast<float>(shot.moment)),
          horizon_(dice_.between(.46F, .58F)) {}

    void paint() {
        sky();
        hills();
        sea();
        switch (dice_.below(4)) {
            case 0:
                fleet(3 + dice_.below(5), .10F, .26F);
                break;
            case 1:
                fleet(2, .07F, .14F);
                quay();
                people(2, .46F);
                bunting();
                break;
            case 2:
                fleet(3, .06F, .12F);
                quay();
                people(5 + dice_.below(5), .30F);
                break;
            default:
                fleet(2, .08F, .14F);
                sailboat({canvas_.aspect() * dice_.between(.35F, .6F) + .05F * moment_, .86F}, .7F);
                break;
        }
    }

  private:
    void sky() {
        canvas_.gradient(0, horizon_, light_.zenith, light_.horizon);
        Point sun{canvas_.aspect() * dice_.between(.15F, .85F),
                  horizon_ * dice_.between(.25F, .75F)};
        for (float glow : {.16F, .10F, .06F})
            canvas_.disc(sun, glow, light_.sun, .12F);
        canvas_.disc(sun, .032F, light_.sun, .95F);
        sun_x_ = sun.x;
        int clouds = 2 + dice_.below(4);
        for (int i = 0; i < clouds; ++i)
            cloud();
    }

    void cloud() {
        Point at{canvas_.aspect() * dice_.unit() + .02F * moment_,
                 horizon_ * dice_.between(.1F, .7F)};
        Color white = mix({1, 1, 1}, light_.horizon, .4F);
        for (int puff = 0; puff < 6; ++puff) {
            canvas_.disc({at.x + dice_.between(-.12F, .12F), at.y + dice_.between(-.015F, .015F)},
                         dice_.between(.018F, .045F), white, .22F);
        }
    }

    void hills() {
        for (int layer = 0; layer < 2; ++layer) {
            float height = layer == 0 ? .12F : .06F;
            float phase = dice_.between(0, 6);
            std::vector<Point> outline{{-.01F, horizon_}};
            for (int i = 0; i <= 48; ++i) {
                float x = canvas_.aspect() * static_cast<float>(i) / 48.0F;
                float wave =
                    .5F + .3F * std::sin(x * 3.1F + phase) + .2F * std::sin(x * 7.3F + phase * 2);
                outline.push_back({x, horizon_ - height * wave});
            }
            outline.push_back({canvas_.aspect() + .01F, horizon_});
            canvas_.fill(outline, mix(light_.land, light_.horizon, layer == 0 ? .55F : .2F));
        }
    }

    void sea() {
        canvas_.gradient(horizon_, 1, light_.sea_far, light_.sea_near);
        for (int i = 0; i < 160; ++i) {
            float depth = dice_.unit() * dice_.unit();
            float y = horizon_ + .004F + depth * (1 - horizon_);
            bool glitter = i % 3 == 0;
            float x = glitter ? sun_x_ + dice_.between(-.02F, .02F) * (1 + 8 * depth)
                              : canvas_.aspect() * dice_.unit();
            float length = dice_.between(.01F, .05F) * (.4F + 2 * depth);
            Color color = glitter ? light_.sun : mix(light_.sea_near, light_.horizon, .35F);
            canvas_.line({x - length + .03F * moment_, y}, {x + length + .03F * moment_, y},
                         .0015F + .004F * depth, color, glitter ? .6F : .3F);
        }
    }

    void fleet(int boats, float smallest, float largest) {
        for (int i = 0; i < boats; ++i) {
            float size = dice_.between(smallest, largest);
            float drift = (dice_.unit() - .3F) * .3F * moment_;
            sailboat({canvas_.aspect() * dice_.between(.05F, .95F) + drift, horizon_ + size * .35F},
                     size);
        }
    }

    /// `at`: the middle of the waterline; `size`: height of the mast.
    void sailboat(Point at, float size) {
        Color sail = kCloth[static_cast<std::size_t>(dice_.below(8))];
        Color jib = kCloth[static_cast<std::size_t>(dice_.below(8))];
        Color hull = mix(kCloth[static_cast<std::size_t>(dice_.below(8))], light_.land, .3F);
        float lean = dice_.between(-.06F, .06F) + .05F * moment_;
        Point top{at.x + lean * size, at.y - size};
        Point foot{at.x, at.y - size * .08F};
        canvas_.line(foot, top, size * .018F, {.35F, .26F, .18F});
        const std::array<Point, 3> main{top, Point{foot.x + .02F * size, foot.y - .03F * size},
                                        Point{foot.x + .38F * size, foot.y - .04F * size}};
        const std::array<Point, 3> fore{Point{top.x - .02F * size, top.y + .12F * size},
                                        Point{foot.x - .03F * size, foot.y - .03F * size},
                                        Point{foot.x - .30F * size, foot.y}};
        canvas_.fill(main, mix(sail, light_.sun, .15F));
        canvas_.fill(fore, mix(jib, light_.horizon, .2F));
        const std::array<Point, 4> body{Point{at.x - .34F * size, at.y - .09F * size},
                                        Point{at.x + .42F * size, at.y - .09F * size},
                                        Point{at.x + .30F * size, at.y},
                                        Point{at.x - .24F * size, at.y}};
        canvas_.fill(body, hull);
        canvas_.line({at.x - .3F * size, at.y + .03F * size},
                     {at.x + .35F * size, at.y + .03F * size}, .03F * size, hull, .35F);
    }

    void quay() {
        Color plank = mix({.62F, .50F, .38F}, light_.land, .35F);
        canvas_.gradient(.84F, 1, plank, mix(plank, {.15F, .12F, .1F}, .5F));
        for (int i = 0; i < 24; ++i) {
            float x = canvas_.aspect() * static_cast<float>(i) / 23.0F;
            float spread = (x - canvas_.aspect() / 2) * .35F;
            canvas_.line({x, .84F}, {x + spread, 1}, .003F, {.2F, .16F, .12F}, .5F);
        }
    }

    void people(int count, float height) {
        float middle = canvas_.aspect() * dice_.between(.4F, .6F);
        float step = height * .34F;
        for (int i = 0; i < count; ++i) {
            float x = middle + (static_cast<float>(i) - static_cast<float>(count - 1) / 2) * step;
            x += (dice_.unit() - .5F) * .2F * step + .02F * moment_;
            person({x, .93F}, height * dice_.between(.92F, 1.04F),
                   kCloth[static_cast<std::size_t>(dice_.below(8))]);
        }
    }

    /// `feet`: where the person stands.
    void person(Point feet, float height, Color cloth) {
        Color dark = mix(cloth, {.08F, .08F, .12F}, .55F);
        Color skin = mix({.93F, .76F, .62F}, {.42F, .28F, .20F}, dice_.unit());
        float shoulder = feet.y - height * .80F;
        float hip = feet.y - height * .46F;
        float half = height * .11F;
        const std::array<Point, 4> legs{
            Point{feet.x - half * .8F, hip}, Point{feet.x + half * .8F, hip},
            Point{feet.x + half * .9F, feet.y}, Point{feet.x - half * .9F, feet.y}};
        const std::array<Point, 4> torso{Point{feet.x - half, shoulder},
                                         Point{feet.x + half, shoulder},
                                         Point{feet.x + half * .75F, hip + height * .02F},
                                         Point{feet.x - half * .75F, hip + height * .02F}};
        canvas_.fill(legs, dark);
        canvas_.fill(torso, cloth);
        float wave = height * (.16F + .12F * moment_);
        canvas_.line({feet.x + half * .9F, shoulder + height * .03F},
                     {feet.x + half * 2.0F, shoulder + height * .2F - wave}, height * .045F, cloth);
        canvas_.line({feet.x - half * .9F, shoulder + height * .03F}, {feet.x - half * 1.5F, hip},
                     height * .045F, cloth);
        canvas_.disc({feet.x, shoulder - height * .09F}, height * .075F, skin);
        canvas_.disc({feet.x, shoulder - height * .125F}, height * .06F,
                     mix({.15F, .10F, .07F}, {.85F, .70F, .42F}, dice_.unit()));
    }

    void bunting() {
        Point left{0, .10F};
        Point right{canvas_.aspect(), .07F};
        Point before = left;
        for (int i = 1; i <= 18; ++i) {
            float part = static_cast<float>(i) / 18.0F;
            Point at{left.x + (right.x - left.x) * part,
                     left.y + (right.y - left.y) * part + .16F * part * (1 - part) * 2};
            canvas_.line(before, at, .003F, {.25F, .22F, .2F});
            float wide = (at.x - before.x) * .36F;
            Point middle{(before.x + at.x) / 2, (before.y + at.y) / 2};
            const std::array<Point, 3> flag{Point{middle.x - wide, middle.y},
                                            Point{middle.x + wide, middle.y},
                                            Point{middle.x + .02F * moment_, middle.y + .06F}};
            canvas_.fill(flag, kCloth[static_cast<std::size_t>(i) % kCloth.size()]);
            before = at;
        }
    }

    Canvas& canvas_;
    Dice dice_;
    Light light_;
    float moment_;
    float horizon_;
    float sun_x_ = 0;
};

}  // namespace

void paint(const Shot& shot, Canvas& canvas) {
    Painter(shot, canvas).paint();
}

}  // namespace demo

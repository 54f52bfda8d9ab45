#include "glassine/photo/preview.h"

#include "damage.h"
#include "glassine/photo/examine.h"
#include "pictures.h"

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::photo;
using glassine::test::bytes_of;

namespace {

Picture look(const std::string& file, std::string_view name = "a.jpg") {
    return examine(bytes_of(file), name).picture;
}

}  // namespace

TEST_CASE("a proxy is the largest preview with the raw's orientation and capture metadata") {
    demo::Shot shot;
    shot.orientation = 8;
    shot.copyright = "© Tove Abara";
    shot.place = demo::Place{57.7, 11.9};
    const std::string raw = demo::dng(shot, {.preview_width = 1600, .preview_height = 1067});
    const Proxy proxy = make_proxy(bytes_of(raw));
    CHECK(proxy.source == ProxySource::embedded);
    CHECK(std::max(proxy.width, proxy.height) == 1600);
    const Picture of_raw = look(raw, "a.dng");
    const Picture found = look(proxy.jpeg);
    CHECK(found.verdict == Verdict::whole);
    CHECK(found.kind == Kind::jpeg);
    CHECK(found.orientation == of_raw.orientation);
    CHECK(found.captured == of_raw.captured);
    CHECK(found.make == of_raw.make);
    CHECK(found.model == of_raw.model);
    CHECK(found.serial == of_raw.serial);
    CHECK(found.original_name == of_raw.original_name);
    CHECK(found.has_rights);
    CHECK(found.has_location);
}

TEST_CASE("a raw without a usable preview is rendered") {
    demo::Shot shot;
    shot.orientation = 6;
    for (const std::string& raw :
         {demo::dng(shot, {.width = 2400, .height = 1600, .preview_width = 0}),
          demo::dng(
              shot,
              {.width = 2400, .height = 1600, .preview_width = 320, .preview_height = 214})}) {
        const Proxy proxy = make_proxy(bytes_of(raw));
        CHECK(proxy.source == ProxySource::rendered);
        CHECK(std::max(proxy.width, proxy.height) == 1200);
        const Picture found = look(proxy.jpeg);
        CHECK(found.verdict == Verdict::whole);
        CHECK(found.orientation == look(raw, "a.dng").orientation);
        CHECK(found.captured == look(raw, "a.dng").captured);
        CHECK(found.color_space == ColorSpace::srgb);
    }
}

TEST_CASE("a broken preview is passed over") {
    const demo::DngOptions options{
        .width = 600, .height = 400, .preview_width = 1600, .preview_height = 1067};
    std::string raw = demo::dng({}, options);
    // The preview is the only JPEG of its size in the file: noise in its middle.
    const auto at = raw.rfind("\xff\xda");
    REQUIRE(at != std::string::npos);
    std::mt19937 random(3);
    for (std::size_t i = at + 2000; i < at + 6000; ++i)
        raw[i] = static_cast<char>(random());
    const Proxy proxy = make_proxy(bytes_of(raw));
    CHECK(proxy.source == ProxySource::rendered);
    CHECK(look(proxy.jpeg).verdict == Verdict::whole);
}

TEST_CASE("where nothing works there is no proxy, and it is said why") {
    for (const std::string& raw :
         {std::string(), std::string(10000, 'x'),
          demo::jpeg({}, {.width = 40, .height = 30, .thumbnail = false})}) {
        const Proxy proxy = make_proxy(bytes_of(raw));
        CHECK(proxy.jpeg.empty());
        CHECK(proxy.source == ProxySource::none);
        CHECK_FALSE(proxy.why.empty());
    }
}

TEST_CASE("thumbnails stand upright") {
    demo::Shot shot;
    const auto edge = [](const std::string& jpeg) { return look(jpeg); };
    for (int orientation = 1; orientation <= 8; ++orientation) {
        shot.orientation = static_cast<std::uint16_t>(orientation);
        const Examined found = examine(bytes_of(demo::jpeg(shot, {.width = 640, .height = 480})),
                                       "a.jpg", {160, false});
        const Picture small = edge(found.thumbnail);
        CHECK(small.verdict == Verdict::whole);
        CHECK(std::max(small.width, small.height) == 160);
        // The generator stores the pixels of an upright scene turned to match: Exif 2.32, 5 to 8
        // swap sides.
        CHECK((small.width > small.height) ==
              ((found.picture.width > found.picture.height) == (orientation < 5)));
    }
}

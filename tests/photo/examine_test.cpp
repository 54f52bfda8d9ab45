#include "glassine/photo/examine.h"

#include "pictures.h"

#include <catch2/catch.hpp>

using namespace glassine::photo;

namespace {

std::span<const std::byte> bytes(const std::string& text) {
    return std::as_bytes(std::span(text.data(), text.size()));
}

Examined look(const std::string& file, std::string_view name, const Wishes& wishes = {}) {
    return examine(bytes(file), name, wishes);
}

}  // namespace

TEST_CASE("a JPEG is described by its metadata and decoded to its last line") {
    demo::Shot shot;
    shot.copyright = "© 2025 Maren Oduya";
    shot.orientation = 6;
    const Examined found = look(demo::jpeg(shot), "a.jpg", {320, false});
    CHECK(found.picture.why == "");
    CHECK(found.picture.verdict == Verdict::whole);
    CHECK(found.picture.make == shot.make);
    CHECK(found.picture.model == shot.model);
    CHECK(found.picture.serial == shot.serial);
    REQUIRE(found.picture.captured);
    CHECK(found.picture.captured->local == shot.captured);
    CHECK(found.picture.captured->has_subseconds);
    CHECK(found.picture.captured->utc_offset == shot.utc_offset);
    CHECK(found.picture.orientation == 6);
    CHECK(found.picture.has_rights);
    CHECK_FALSE(found.picture.has_location);
    CHECK(found.picture.width == 1600);
    CHECK(found.picture.height == 1067);
    CHECK_FALSE(found.thumbnail.empty());
}

TEST_CASE("whole pictures of every kind are whole") {
    const demo::Shot shot;
    const Wishes wishes{320, true};
    demo::JpegOptions progressive;
    progressive.progressive = true;
    for (const auto& [name, file] : std::initializer_list<std::pair<std::string, std::string>>{
             {"a.jpg", demo::jpeg(shot)},
             {"p.jpg", demo::jpeg(shot, progressive)},
             {"a.dng", demo::dng(shot)},
             {"a.tif", demo::tiff(shot)},
             {"l.tif", demo::tiff(shot, {.packing = demo::TiffPacking::lzw})},
             {"d.tif", demo::tiff(shot, {.packing = demo::TiffPacking::deflate, .tiled = true})},
             {"a.png", demo::png(shot)},
             {"i.png", demo::png(shot, {.interlaced = true})},
             {"a.heic", demo::heif(shot)}}) {
        const Examined found = look(file, name, wishes);
        INFO(name);
        CHECK(found.picture.why == "");
        CHECK(found.picture.verdict == Verdict::whole);
        CHECK(found.picture.model == shot.model);
        CHECK(found.picture.width > 0);
        CHECK((name == "d.tif" || !found.thumbnail.empty()));
        CHECK(found.proxy.empty() == (name != "a.dng"));
    }
}

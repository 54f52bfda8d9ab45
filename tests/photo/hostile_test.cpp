#include "damage.h"
#include "glassine/photo/examine.h"
#include "glassine/photo/preview.h"
#include "pictures.h"
#include "support/temp_folder.h"

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::photo;
using glassine::test::bytes_of;

namespace {

struct Sample {
    const char* name;
    std::string file;
};

std::vector<Sample> tiny_samples() {
    const demo::Shot shot;
    return {
        {"a.jpg", demo::jpeg(shot, {.width = 24, .height = 16, .thumbnail = false})},
        {"p.jpg",
         demo::jpeg(shot, {.width = 24, .height = 16, .progressive = true, .thumbnail = false})},
        {"a.tif", demo::tiff(shot, {.width = 16, .height = 16, .packing = demo::TiffPacking::lzw})},
        {"a.dng",
         demo::dng(shot, {.width = 32, .height = 32, .preview_width = 24, .preview_height = 16})},
        {"a.png", demo::png(shot, {.width = 16, .height = 16})},
        {"a.heic", demo::heif(shot, {.width = 64, .height = 64})},
        {"a.xmp", demo::xmp_packet({.rating = 3, .rights = "x"})}};
}

/// Where the structure stands: the first bytes, and some at random.
std::size_t place(std::mt19937& random, std::size_t size) {
    return random() % 2 == 0 ? test::any(random, std::min<std::size_t>(size, 700))
                             : test::any(random, size);
}

}  // namespace

TEST_CASE("pictures with wrong bytes are judged without a crash under every name") {
    std::mt19937 random(11);
    for (const Sample& sample : tiny_samples()) {
        for (int i = 0; i < 120; ++i) {
            std::string bad = sample.file;
            for (std::size_t k = 0; k <= test::any(random, 4); ++k)
                bad[place(random, bad.size())] =
                    static_cast<char>(random() % 3 == 0 ? 0xFF : random());
            const Examined found = examine(bytes_of(bad), sample.name, {64, i % 8 == 0});
            if (found.picture.verdict != Verdict::whole) CHECK_FALSE(found.picture.why.empty());
            CHECK((found.picture.orientation >= 1 && found.picture.orientation <= 8));
            CHECK((found.picture.rating >= -1 && found.picture.rating <= 5));
        }
        for (const char* name :
             {"x.jpg", "x.tif", "x.dng", "x.nef", "x.png", "x.heic", "x.xmp", "x"})
            examine(bytes_of(sample.file), name, {64, true});
    }
}

TEST_CASE("tiny pictures cut at every length are judged without a crash") {
    for (const Sample& sample : tiny_samples()) {
        const std::size_t step = sample.file.size() > 5000 ? 97 : 3;
        for (std::size_t length = 0; length < sample.file.size(); length += step)
            examine(bytes_of(sample.file).first(length), sample.name, {32, false});
    }
}

// Found by fuzzing: Exiv2 takes this for a film, and walks through the gigabytes that its box
// claims.
TEST_CASE("a box that claims to be longer than its file costs no time") {
    const std::string seed =
        test::content_of(std::filesystem::path(FIXTURES) / "fuzz/picture/endless-box");
    const Examined found = examine(bytes_of(seed).subspan(1), "a.heic", {64, true});
    CHECK(found.picture.verdict == Verdict::broken);
    CHECK_FALSE(found.picture.why.empty());
}

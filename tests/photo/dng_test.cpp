#include "damage.h"
#include "glassine/photo/examine.h"
#include "photo/tiff_structure.h"
#include "pictures.h"

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::photo;
using glassine::test::bytes_of;

namespace {

Picture look(const std::string& file) {
    return examine(bytes_of(file), "a.dng").picture;
}

/// Where the sensor's values begin in a DNG.
std::size_t raw_data_offset(const std::string& file) {
    const TiffStructure tiff(bytes_of(file));
    const TiffDirectory* raw = tiff.main_picture();
    REQUIRE(raw != nullptr);
    return tiff.chunks(*raw).front().offset;
}

}  // namespace

// Source of both rules: DNG specification, RawImageDigest and NewRawImageDigest (from memory),
// compared with the published DNG software development kit. The test pictures compute them on their
// own.
TEST_CASE("the image digest inside a DNG tells changed metadata from a changed picture") {
    struct Case {
        demo::DngOptions options;
        const char* what;
    };
    for (const auto& [options, what] :
         {Case{{.width = 600, .height = 400}, "both digests, strips"},
          Case{{.width = 300, .height = 270, .tiled = true}, "both digests, tiles"},
          Case{{.width = 300, .height = 270, .new_image_digest = false}, "the old digest only"},
          Case{{.width = 300, .height = 270, .image_digest = false}, "the new digest only"}}) {
        INFO(what);
        const std::string whole = demo::dng({}, options);
        const Picture before = look(whole);
        CHECK(before.verdict == Verdict::whole);
        CHECK(before.image_digest_stored.size() == 32);
        CHECK(image_digest(before) == ImageDigest::matches);

        std::string other_model = whole;
        const auto at = other_model.find("Skerrivane S2");
        REQUIRE(at != std::string::npos);
        other_model[at + 12] = '3';
        CHECK(image_digest(look(other_model)) == ImageDigest::matches);
        CHECK(look(other_model).verdict == Verdict::whole);

        std::string flipped = whole;
        const std::size_t raw = raw_data_offset(whole) + 1000;
        flipped[raw] = static_cast<char>(flipped[raw] ^ 1);
        const Picture changed = look(flipped);
        CHECK(image_digest(changed) == ImageDigest::differs);
        CHECK(changed.verdict == Verdict::broken);
        CHECK(changed.why.find("the picture itself has changed") != std::string::npos);
    }
}

TEST_CASE("a DNG without a digest is whole, and nothing is claimed of it") {
    const std::string file = demo::dng(
        {}, {.width = 300, .height = 200, .image_digest = false, .new_image_digest = false});
    const Picture found = look(file);
    CHECK(found.verdict == Verdict::whole);
    CHECK(image_digest(found) == ImageDigest::none);
}

TEST_CASE("where the rule leaves a doubt nothing is computed") {
    // A linearisation table (tag 50712) changes what the values are: here TIFF's Software (305) of
    // the raw directory becomes one.
    std::string file = demo::dng({}, {.width = 300, .height = 200});
    const TiffStructure tiff(bytes_of(file));
    const std::size_t entry = tiff.main_picture()->offset + 2;
    const auto count = static_cast<unsigned char>(file[entry - 2]) |
                       static_cast<unsigned char>(file[entry - 1]) << 8;
    bool changed = false;
    for (int i = 0; i < count && !changed; ++i) {
        const std::size_t at = entry + i * 12;
        const unsigned tag =
            static_cast<unsigned char>(file[at]) | static_cast<unsigned char>(file[at + 1]) << 8;
        if (tag != 50714 && tag != 50717) continue;  // BlackLevel, WhiteLevel
        file[at] = static_cast<char>(50712 & 0xFF);
        file[at + 1] = static_cast<char>(50712 >> 8);
        changed = true;
    }
    REQUIRE(changed);
    const Picture found = look(file);
    CHECK(image_digest(found) == ImageDigest::not_computed);
    CHECK(found.verdict != Verdict::broken);
}

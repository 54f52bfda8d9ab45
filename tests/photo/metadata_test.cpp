#include "damage.h"
#include "glassine/photo/examine.h"
#include "photo/capture_time.h"
#include "photo/icc.h"
#include "pictures.h"
#include "support/temp_folder.h"

#include <array>
#include <cstdio>
#include <cstdlib>
#include <sstream>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::photo;
using namespace std::chrono_literals;
using glassine::test::bytes_of;

namespace {

Picture look(const std::string& file, std::string_view name) {
    return examine(bytes_of(file), name).picture;
}

/// A Python that has Pillow, the independent reader; empty when there is none.
std::string python() {
    for (const char* name : {"python3", "/usr/bin/python3"})
        if (std::system((std::string(name) + " -c 'import PIL' > /dev/null 2>&1").c_str()) == 0)
            return name;
    return {};
}

constexpr const char* pillow_script = R"py(
import sys
from PIL import Image
from PIL.ExifTags import TAGS
for path in sys.argv[1:]:
    im = Image.open(path)
    exif = im.getexif()
    sub = exif.get_ifd(0x8769)
    gps = exif.get_ifd(0x8825)
    get = lambda d, k: str(d.get(k, '')).strip('\0 ')
    print('|'.join([str(im.width), str(im.height), get(exif, 0x010F), get(exif, 0x0110),
                    get(sub, 0xA431), get(sub, 0x9003), get(sub, 0x9291), get(sub, 0x9011),
                    get(exif, 0x0112), '1' if get(exif, 0x8298) else '0',
                    '1' if 2 in gps and 4 in gps else '0']))
)py";

std::string as_pillow_prints(const Picture& p) {
    std::ostringstream out;
    const auto time = *p.captured;
    const auto day = std::chrono::floor<std::chrono::days>(time.local);
    const std::chrono::year_month_day date(day);
    const std::chrono::hh_mm_ss clock(time.local - day);
    char text[40];
    std::snprintf(text, sizeof text, "%04d:%02u:%02u %02d:%02d:%02d|%03d", int(date.year()),
                  unsigned(date.month()), unsigned(date.day()), int(clock.hours().count()),
                  int(clock.minutes().count()), int(clock.seconds().count()),
                  int(clock.subseconds().count()));
    char offset[16] = "";
    if (time.utc_offset)
        std::snprintf(offset, sizeof offset, "%c%02d:%02d",
                      time.utc_offset->count() < 0 ? '-' : '+',
                      std::abs(int(time.utc_offset->count())) / 60,
                      std::abs(int(time.utc_offset->count())) % 60);
    out << p.width << '|' << p.height << '|' << p.make << '|' << p.model << '|' << p.serial << '|'
        << text << '|' << offset << '|' << p.orientation << '|' << p.has_rights << '|'
        << p.has_location;
    return out.str();
}

}  // namespace

TEST_CASE("Exif values are those that Pillow reads") {
    const std::string interpreter = python();
    if (interpreter.empty()) {
        WARN("SKIPPED: no Python with Pillow (Debian package python3-pil)");
        return;
    }
    const test::TempFolder folder;
    std::string command =
        interpreter + " '" + folder.write("read.py", pillow_script).string() + "'";
    std::vector<std::string> ours;
    for (int i = 0; i < 12; ++i) {
        demo::Shot shot;
        shot.serial = std::to_string(40001000 + i);
        shot.captured += std::chrono::hours(i * 401) + std::chrono::milliseconds(i * 37);
        shot.utc_offset = std::chrono::minutes((i - 6) * 60 + 30);
        shot.orientation = static_cast<std::uint16_t>(1 + i % 8);
        if (i % 2 == 0) shot.copyright = "(c) Tove Abara";
        if (i % 3 == 0) shot.place = demo::Place{57.7, -11.9};
        const std::string file = demo::jpeg(shot, {.width = 64 + i, .height = 48});
        command += " '" + folder.write(std::to_string(i) + ".jpg", file).string() + "'";
        ours.push_back(as_pillow_prints(look(file, "x.jpg")));
    }
    std::FILE* pipe = popen(command.c_str(), "r");
    REQUIRE(pipe != nullptr);
    std::array<char, 1000> line;
    for (const std::string& expected : ours) {
        REQUIRE(std::fgets(line.data(), line.size(), pipe) != nullptr);
        CHECK(std::string(line.data()) == expected + "\n");
    }
    CHECK(pclose(pipe) == 0);
}

TEST_CASE("capture times of Exif") {
    // Exif 2.32 (CIPA DC-008): DateTimeOriginal, SubSecTimeOriginal, OffsetTimeOriginal.
    const auto time = exif_time("2024:02:29 23:59:58", "5", "-03:30");
    REQUIRE(time);
    CHECK(time->local ==
          std::chrono::local_days(std::chrono::year(2024) / 2 / 29) + 23h + 59min + 58s + 500ms);
    CHECK(time->has_subseconds);
    CHECK(time->utc_offset == -210min);
    CHECK(exif_time("2024:02:29 00:00:00", "05 ", "")->local.time_since_epoch() % 1s == 50ms);
    CHECK(exif_time("2024:02:29 00:00:00", "123456", "")->local.time_since_epoch() % 1s == 123ms);
    CHECK_FALSE(exif_time("2024:02:29 00:00:00", "", "")->has_subseconds);
    CHECK_FALSE(exif_time("2024:02:29 00:00:00", "x", "junk")->utc_offset);
    for (const char* unknown :
         {"", "    :  :     :  :  ", "0000:00:00 00:00:00", "2023:02:29 10:00:00",
          "2024:13:01 10:00:00", "2024:01:01 24:00:00", "2024:01:01"})
        CHECK_FALSE(exif_time(unknown, "", ""));
}

TEST_CASE("capture times of XMP") {
    const auto time = xmp_time("2025-06-14T11:20:35.42+01:00");
    REQUIRE(time);
    CHECK(time->local.time_since_epoch() % 1s == 420ms);
    CHECK(time->utc_offset == 60min);
    CHECK(xmp_time("2025-06-14T11:20:35Z")->utc_offset == 0min);
    CHECK_FALSE(xmp_time("2025-06-14T11:20:35")->utc_offset);
    CHECK_FALSE(xmp_time("2025-06-14"));
}

TEST_CASE("rating, original name, rights and place come from XMP as well") {
    const std::string packet = demo::xmp_packet({.rating = -1,
                                                 .rights = "© Tove Abara",
                                                 .preserved_file_name = "SKER0042.NEF",
                                                 .place = demo::Place{57.7, 11.9}});
    demo::Shot shot;
    for (const Picture& p :
         {look(demo::jpeg(shot, {.width = 64, .height = 48, .xmp = packet}), "a.jpg"),
          look(packet, "a.xmp"), look(demo::dng(shot, {.xmp = packet}), "a.dng")}) {
        CHECK(p.verdict == Verdict::whole);
        CHECK(p.rating == -1);
        CHECK(p.original_name == "SKER0042.NEF");
        CHECK(p.has_rights);
        CHECK(p.has_location);
    }
    const Picture bare = look(demo::jpeg({}, {.width = 64, .height = 48, .exif = false}), "a.jpg");
    CHECK(bare.rating == 0);
    CHECK_FALSE(bare.has_rights);
    CHECK_FALSE(bare.has_location);
    CHECK_FALSE(bare.captured);
    CHECK(look(demo::jpeg({}, {.width = 64, .height = 48, .iptc_copyright = "x"}), "a.jpg")
              .has_rights);
}

TEST_CASE("the colour space follows the profile, then Exif") {
    const auto jpeg = [](demo::Profile profile, bool exif) {
        return look(demo::jpeg({}, {.width = 64, .height = 48, .profile = profile, .exif = exif}),
                    "a.jpg");
    };
    CHECK(jpeg(demo::Profile::srgb, false).color_space == ColorSpace::srgb);
    CHECK(jpeg(demo::Profile::srgb, false).has_profile);
    CHECK_FALSE(jpeg(demo::Profile::srgb, false).profile_name.empty());
    CHECK(jpeg(demo::Profile::wide, true).color_space == ColorSpace::adobe_rgb);
    CHECK(jpeg(demo::Profile::none, false).color_space == ColorSpace::unknown);
    CHECK_FALSE(jpeg(demo::Profile::none, true).has_profile);
    CHECK(look(demo::png({}, {.profile = demo::Profile::wide}), "a.png").color_space ==
          ColorSpace::adobe_rgb);
    CHECK(look(demo::tiff({}, {.profile = demo::Profile::wide}), "a.tif").color_space ==
          ColorSpace::adobe_rgb);
    CHECK(
        look(demo::heif({}, {.width = 64, .height = 64, .profile = demo::Profile::wide}), "a.heic")
            .color_space == ColorSpace::adobe_rgb);
}

TEST_CASE("hostile ICC profiles are no profiles") {
    const std::string good = demo::icc_profile(demo::Profile::srgb);
    REQUIRE(read_icc(bytes_of(good)).valid);
    std::mt19937 random(9);
    for (std::size_t length = 0; length < good.size(); length += 5)
        CHECK_FALSE(read_icc(bytes_of(good.substr(0, length))).valid);
    for (int i = 0; i < 500; ++i) {
        std::string bad = good;
        for (int k = 0; k < 4; ++k)
            bad[test::any(random, bad.size())] = static_cast<char>(random());
        read_icc(bytes_of(bad));
    }
}

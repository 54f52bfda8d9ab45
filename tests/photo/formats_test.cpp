#include "photo/formats.h"

#include "damage.h"
#include "glassine/photo/examine.h"
#include "photo/boxes.h"
#include "photo/xml_check.h"
#include "pictures.h"

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::photo;
using glassine::test::bytes_of;

namespace {

Picture look(const std::string& file, std::string_view name) {
    return examine(bytes_of(file), name).picture;
}

struct Sample {
    std::string name;
    std::string file;
};

std::vector<Sample> samples() {
    const demo::Shot shot;
    return {
        {"plain.tif", demo::tiff(shot, {.width = 90, .height = 70})},
        {"tiles.tif", demo::tiff(shot, {.width = 90, .height = 70, .tiled = true})},
        {"lzw.tif",
         demo::tiff(shot, {.width = 90, .height = 70, .packing = demo::TiffPacking::lzw})},
        {"zip.tif",
         demo::tiff(shot, {.width = 90, .height = 70, .packing = demo::TiffPacking::deflate})},
        {"a.png", demo::png(shot, {.width = 90, .height = 70})},
        {"i.png", demo::png(shot, {.width = 90, .height = 70, .interlaced = true})},
        {"a.heic", demo::heif(shot, {.width = 96, .height = 64})},
        {"strips.dng",
         demo::dng(shot, {.width = 96, .height = 64, .preview_width = 160, .preview_height = 107})},
        {"tiles.dng", demo::dng(shot, {.width = 96,
                                       .height = 64,
                                       .tiled = true,
                                       .preview_width = 160,
                                       .preview_height = 107})},
        {"a.xmp", demo::xmp_packet({.rating = 3, .rights = "x"})}};
}

}  // namespace

TEST_CASE("a picture of any format that is cut off is never whole") {
    for (const Sample& sample : samples()) {
        INFO(sample.name);
        REQUIRE(look(sample.file, sample.name).verdict == Verdict::whole);
        // Some 150 lengths, among them the last ones.
        const std::size_t step = std::max<std::size_t>(1, sample.file.size() / 120);
        for (std::size_t length = 0;
             length<sample.file.size(); length += sample.file.size() - length> 30 ? step : 1) {
            // White space behind the last tag belongs to no one.
            if (sample.name == "a.xmp" && sample.file.find("</x:xmpmeta>") + 12 <= length) break;
            const Picture found = look(sample.file.substr(0, length), sample.name);
            INFO(sample.name << " cut to " << length << " of " << sample.file.size());
            REQUIRE(found.verdict != Verdict::whole);
            REQUIRE_FALSE(found.why.empty());
        }
    }
}

TEST_CASE("what is said of a cut TIFF names the first lost line") {
    const std::string file = demo::tiff({}, {.width = 300, .height = 200});
    // Directories first: else a cut loses them before any line.
    const Picture found = look(file.substr(0, file.size() / 2), "a.tif");
    CHECK(found.verdict == Verdict::broken);
    CHECK(found.broken_offset);
    CHECK(found.why.find("cut off") == 0);
}

TEST_CASE("damaged packed data are found with the line") {
    // Deflate carries a check sum (RFC 1950); damaged LZW often unpacks to something.
    std::string file =
        demo::tiff({}, {.width = 300, .height = 200, .packing = demo::TiffPacking::deflate});
    for (int i = 0; i < 40; ++i)
        file[file.size() / 2 + i] = '\x55';
    const Picture packed = look(file, "a.tif");
    INFO(packed.why);
    CHECK(packed.verdict == Verdict::broken);
    REQUIRE(packed.lost_from_line);
    CHECK(*packed.lost_from_line > 20);
    CHECK(*packed.lost_from_line < 180);
    std::string png = demo::png({}, {.width = 300, .height = 200});
    png[png.size() / 2] = static_cast<char>(png[png.size() / 2] ^ 1);
    const Picture found = look(png, "a.png");
    CHECK(found.verdict == Verdict::broken);
    REQUIRE(found.lost_from_line);
    CHECK(*found.lost_from_line < 200);
}

TEST_CASE("every flipped bit that counts in deflated strips is found") {
    // libtiff takes a strip as unpacked once it is full: damage that only made it longer went
    // unseen.
    const std::string file =
        demo::tiff({}, {.width = 60, .height = 40, .packing = demo::TiffPacking::deflate});
    // Three strips of 16 rows hold the picture, from byte 8 on; the directory comes behind them.
    const std::size_t end = file.size() / 2;
    std::size_t unseen = 0;
    for (std::size_t at = 10; at < end; at += 3) {
        std::string damaged = file;
        damaged[at] = static_cast<char>(damaged[at] ^ (1 << (at % 8)));
        if (look(damaged, "a.tif").verdict != Verdict::broken) ++unseen;
    }
    // RFC 1951 leaves up to seven bits unused between a stream's last code and its check value.
    CHECK(unseen <= 3);
}

TEST_CASE("files that are not what their name says") {
    // A half-written transfer: the right size, zeros inside (The Old New Thing, 17 May 2019).
    for (const char* name :
         {"a.jpg", "a.tif", "a.png", "a.heic", "a.dng", "a.nef", "a.cr3", "a.xmp"}) {
        INFO(name);
        CHECK(look(std::string(100000, '\0'), name).verdict == Verdict::broken);
    }
    const std::string png = demo::png({}, {.width = 40, .height = 30});
    CHECK(look(png, "a.jpg").kind == Kind::png);
    CHECK(look(png, "a.jpg").verdict == Verdict::whole);
    CHECK(look("some text", "notes.txt").kind == Kind::other);
    CHECK(look("some text", "notes.txt").verdict == Verdict::not_checkable);
}

TEST_CASE("kinds are told by content first") {
    const auto kind = [](const std::string& head, std::string_view name) {
        return kind_of(bytes_of(head), name);
    };
    using namespace std::string_literals;
    CHECK(kind("\xff\xd8\xff\xe1"s, "x.bin") == Kind::jpeg);
    CHECK(kind("II*\0\x08\0\0\0"s, "x.bin") == Kind::tiff);
    CHECK(kind("II*\0\x08\0\0\0"s, "x.NEF") == Kind::raw);
    CHECK(kind("MM\0*\0\0\0\x08"s, "x.dng") == Kind::dng);
    CHECK(kind("II*\0\x10\0\0\0CR\x02\0"s, "x.tif") == Kind::raw);
    CHECK(kind("FUJIFILMCCD-RAW 0201"s, "x") == Kind::raw);
    CHECK(kind("\0\0\0\x18"
               "ftypcrx \0\0\0\1"s,
               "x") == Kind::raw);
    CHECK(kind("\0\0\0\x18"
               "ftypheic\0\0\0\0"s,
               "x.jpg") == Kind::heif);
    CHECK(kind("\xef\xbb\xbf<x:xmpmeta xmlns:x="s, "x") == Kind::xmp);
    CHECK(kind("", "dir.nef/readme") == Kind::other);
    CHECK(kind_of_name("a.b.Jpeg") == Kind::jpeg);
}

TEST_CASE("boxes must tile the file") {
    const std::string heif = demo::heif({}, {.width = 64, .height = 64});
    CHECK_FALSE(check_boxes(bytes_of(heif)));
    CHECK(check_boxes(bytes_of(heif + "abc")));
    CHECK(check_boxes(bytes_of(heif + std::string(12, '\0'))));
    const auto cut = check_boxes(bytes_of(heif.substr(0, heif.size() - 10)));
    REQUIRE(cut);
    CHECK(cut->why.find("cut off") == 0);
}

TEST_CASE("TIFF directories that loop, overflow or multiply end") {
    using namespace std::string_literals;
    const std::string loop = "II*\0\x08\0\0\0\0\0\x08\0\0\0"s;
    CHECK(look(loop, "a.tif").verdict == Verdict::broken);
    // One entry: StripOffsets with 2^32 - 1 values at 0xFFFFFFF0.
    const std::string huge =
        "II*\0\x08\0\0\0\1\0\x11\1\4\0\xff\xff\xff\xff\xf0\xff\xff\xff\0\0\0\0"s;
    CHECK(look(huge, "a.tif").verdict == Verdict::broken);
    CHECK(look(huge, "a.nef").verdict != Verdict::whole);
}

TEST_CASE("sidecars must be well-formed, and their entities are not expanded") {
    const std::string packet = demo::xmp_packet({.rating = 2, .title = "Ärlig & <sann>"});
    CHECK(check_xml(bytes_of(packet)).verdict == Verdict::whole);
    CHECK(check_xml(bytes_of(packet.substr(0, packet.size() / 2))).verdict == Verdict::broken);
    CHECK(check_xml(bytes_of(std::string("<a/>"))).verdict == Verdict::broken);
    // "Billion laughs": each entity ten times the one before.
    std::string bomb = "<!DOCTYPE x [<!ENTITY a 'ha'>";
    for (char c = 'b'; c < 'n'; ++c) {
        bomb += std::string("<!ENTITY ") + c + " '";
        for (int i = 0; i < 10; ++i)
            bomb += std::string("&") + static_cast<char>(c - 1) + ";";
        bomb += "'>";
    }
    bomb += "]><x>&m;</x>";
    CHECK(check_xml(bytes_of(bomb)).verdict == Verdict::not_checkable);
    std::string deep;
    for (int i = 0; i < 100000; ++i)
        deep += "<a>";
    CHECK(check_xml(bytes_of(deep)).verdict == Verdict::not_checkable);
}

#include "damage.h"
#include "photo/jpeg_decoder.h"
#include "photo/jpeg_head.h"
#include "pictures.h"
#include "support/temp_folder.h"

#include <array>
#include <cstdio>
#include <cstdlib>

#include <catch2/catch.hpp>
#include <sys/wait.h>

using namespace glassine;
using namespace glassine::photo;
using glassine::test::bytes_of;

namespace {

std::vector<std::string> small_pictures() {
    demo::Shot shot;
    std::vector<std::string> out;
    demo::JpegOptions options{.width = 330, .height = 222};
    out.push_back(demo::jpeg(shot, options));
    options.chroma_halved = false;
    options.quality = 95;
    out.push_back(demo::jpeg(shot, options));
    options.progressive = true;
    out.push_back(demo::jpeg(shot, options));
    options.progressive = false;
    options.chroma_halved = true;
    options.restart_rows = 2;
    out.push_back(demo::jpeg(shot, options));
    return out;
}

/// libjpeg-turbo's own program, the judge from outside (Debian package libjpeg-turbo-progs).
struct Judgement {
    int status = 0;  ///< 0 whole, 1 refused, 2 warnings
    std::string pixels;
};

bool has_djpeg() {
    return std::system("command -v djpeg > /dev/null 2>&1") == 0;
}

Judgement djpeg(const test::TempFolder& folder, const std::string& file) {
    const auto path = folder.write("judged.jpg", file);
    std::FILE* pipe = popen(("djpeg -pnm '" + path.string() + "' 2> /dev/null").c_str(), "r");
    REQUIRE(pipe != nullptr);
    Judgement out;
    std::array<char, 65536> buffer;
    for (std::size_t n = 0; (n = std::fread(buffer.data(), 1, buffer.size(), pipe)) > 0;)
        out.pixels.append(buffer.data(), n);
    out.status = WEXITSTATUS(pclose(pipe));
    return out;
}

Decoded in_pieces(const std::string& file, unsigned edge, std::mt19937& random) {
    JpegDecoder decoder(edge);
    const auto bytes = bytes_of(file);
    for (std::size_t at = 0; at < bytes.size();) {
        const std::size_t longest = std::array<std::size_t, 4>{1, 40, 700, 9000}[random() % 4];
        const std::size_t n = std::min(1 + test::any(random, longest), bytes.size() - at);
        decoder.feed(bytes.subspan(at, n));
        at += n;
    }
    return decoder.finish();
}

}  // namespace

TEST_CASE("200 JPEGs damaged at random places are judged as djpeg judges them") {
    if (!has_djpeg()) {
        WARN("SKIPPED: djpeg is not installed (libjpeg-turbo-progs)");
        return;
    }
    const test::TempFolder folder;
    std::mt19937 random(20250906);
    int noticed = 0;
    for (const std::string& whole : small_pictures()) {
        const Judgement before = djpeg(folder, whole);
        REQUIRE(before.status == 0);
        CHECK(decode_jpeg(bytes_of(whole), 0).verdict == Verdict::whole);
        for (int i = 0; i < 50; ++i) {
            const test::Damaged damaged = test::damaged(whole, random);
            const Judgement judged = djpeg(folder, damaged.file);
            const Decoded ours = decode_jpeg(bytes_of(damaged.file), 0);
            INFO(damaged.how << ", number " << i << ": djpeg " << judged.status
                             << ", we: " << ours.why);
            const bool lost = damaged.cut || judged.status == 1 ||
                              (judged.status == 2 && judged.pixels != before.pixels);
            if (lost) CHECK(ours.verdict != Verdict::whole);
            if (damaged.cut) CHECK(ours.verdict == Verdict::broken);
            if (judged.status == 0 && judged.pixels == before.pixels && !damaged.cut)
                CHECK(ours.verdict == Verdict::whole);
            noticed += lost ? 1 : 0;
        }
    }
    CHECK(noticed > 100);  // the test itself must not have gone blind
}

TEST_CASE("a JPEG decodes the same in any pieces") {
    std::mt19937 random(4);
    for (const std::string& whole : small_pictures()) {
        for (int i = 0; i < 12; ++i) {
            const std::string file = i == 0 ? whole : test::damaged(whole, random).file;
            const Decoded at_once = decode_jpeg(bytes_of(file), 100);
            const Decoded pieces = in_pieces(file, 100, random);
            INFO(i << ": " << at_once.why << " / " << pieces.why);
            CHECK(at_once.verdict == pieces.verdict);
            CHECK(at_once.why == pieces.why);
            CHECK(at_once.broken_offset == pieces.broken_offset);
            CHECK(at_once.lost_from_line == pieces.lost_from_line);
            CHECK(at_once.trailing_data == pieces.trailing_data);
            CHECK(at_once.thumbnail.rgb == pieces.thumbnail.rgb);
        }
    }
}

TEST_CASE("a JPEG cut at every length is broken, and one byte short is cut off") {
    const std::string whole = demo::jpeg({}, {.width = 48, .height = 32, .thumbnail = false});
    for (std::size_t length = 0; length < whole.size(); ++length) {
        const Decoded found = decode_jpeg(bytes_of(whole.substr(0, length)), 0);
        INFO(length << ": " << found.why);
        REQUIRE(found.verdict == Verdict::broken);
    }
    const Decoded found = decode_jpeg(bytes_of(whole.substr(0, whole.size() - 1)), 0);
    CHECK(found.why == "cut off: every line is there, but the end mark of the JPEG is missing");
    CHECK_FALSE(found.lost_from_line);
}

TEST_CASE("what is said of a cut names the first lost line") {
    const std::string whole = demo::jpeg({}, {.width = 640, .height = 480, .thumbnail = false});
    const Decoded found = decode_jpeg(bytes_of(whole.substr(0, whole.size() / 2)), 64);
    REQUIRE(found.lost_from_line);
    CHECK(*found.lost_from_line % 16 == 0);
    CHECK(*found.lost_from_line > 100);
    CHECK(*found.lost_from_line < 400);
    CHECK(found.broken_offset == whole.size() / 2);
    // The lines that came are drawn, the rest is grey.
    CHECK(found.thumbnail.width == 64);
}

TEST_CASE("bytes behind a JPEG are no damage") {
    const std::string whole = demo::jpeg({}, {.width = 160, .height = 120});
    for (const std::string& tail :
         {std::string(1, '\0'), std::string(100000, '\0'), whole, std::string("SEFT")}) {
        const Decoded found = decode_jpeg(bytes_of(whole + tail), 0);
        CHECK(found.verdict == Verdict::whole);
        CHECK(found.trailing_data);
    }
    CHECK_FALSE(decode_jpeg(bytes_of(whole), 0).trailing_data);
}

TEST_CASE("a few zero bytes before the end mark are padding, many are a lost cluster") {
    const std::string whole = demo::jpeg({}, {.width = 160, .height = 120});
    const std::string body = whole.substr(0, whole.size() - 2);
    const std::string end = whole.substr(whole.size() - 2);
    // Common practice, no source: some cameras pad the scan.
    CHECK(decode_jpeg(bytes_of(body + std::string(20, '\0') + end), 0).verdict == Verdict::whole);
    CHECK(decode_jpeg(bytes_of(body + std::string(4096, '\0') + end), 0).verdict ==
          Verdict::broken);
    CHECK(decode_jpeg(bytes_of(body + "some text" + end), 0).verdict == Verdict::broken);
}

TEST_CASE("the segments before the scan are read as they come") {
    const std::string file = demo::jpeg({}, {.width = 330, .height = 222});
    JpegHead head;
    std::size_t length = 0;
    while (head.advance(bytes_of(file).first(length)) == JpegHead::State::more)
        REQUIRE(++length < file.size());
    CHECK(head.state() == JpegHead::State::ready);
    CHECK(head.width() == 330);
    CHECK(head.height() == 222);
    CHECK_FALSE(head.needs_whole());
    CHECK(file.substr(head.scan_offset(), 2) == "\xff\xda");

    JpegHead progressive;
    const std::string other = demo::jpeg({}, {.width = 330, .height = 222, .progressive = true});
    CHECK(progressive.advance(bytes_of(other)) == JpegHead::State::ready);
    CHECK(progressive.needs_whole());
    // 4:2:0: 21 x 14 MCUs of six blocks of 64 coefficients of two bytes [calc].
    CHECK(progressive.coefficient_bytes() == 21 * 14 * 6 * 64 * 2);
}

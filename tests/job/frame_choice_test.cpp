#include "glassine/job/frame_choice.h"

#include "glassine/base/error.h"

#include <catch2/catch.hpp>

using namespace glassine;

namespace {

const std::vector<std::string> files{"data/originals/KRB_0448.DNG",
                                     "data/originals/KRB_0448.xmp",
                                     "data/originals/KRB_0450.DNG",
                                     "data/print/holt-001.jpg",
                                     "data/print/KRB_0450-2.jpg",
                                     "data/web/holt_2014-06-21_0042.jpg",
                                     "data/web/Åse.jpg"};

/// The photo index knows that holt-001.jpg shows frame KRB_0448.
std::vector<job::FrameRow> index_rows() {
    std::vector<job::FrameRow> rows(2);
    rows[0].frame = "KRB_0448";
    rows[0].originals = {files[0]};
    rows[0].sidecars = {files[1]};
    rows[0].print = {files[3]};
    rows[1].frame = "KRB_0450";
    rows[1].originals = {files[2]};
    rows[1].print = {files[4]};
    return rows;
}

std::string chosen(const std::string& list, const std::vector<job::FrameRow>& rows = {}) {
    const auto chosen = job::FrameChoice::parse(list).choose(files, rows);
    std::string out;
    for (std::size_t i = 0; i < files.size(); ++i)
        if (chosen.files[i]) out += std::to_string(i);
    for (const std::string& item : chosen.unknown)
        out += " ?" + item;
    return out;
}

}  // namespace

TEST_CASE("frames are found by number, range, name of frame and name of file") {
    CHECK(chosen("448") == "01");
    CHECK(chosen("0448") == "01");
    CHECK(chosen("448-450") == "0124");
    CHECK(chosen("448 - 450") == "0124");
    CHECK(chosen("krb_0448") == "01");
    CHECK(chosen("KRB_0448.dng") == "0");
    CHECK(chosen("data/originals/KRB_0450.DNG") == "2");
    CHECK(chosen("42") == "5");
    CHECK(chosen("åse") == "6");
    CHECK(chosen("holt-001") == "3");
    CHECK(chosen("1,42") == "35");
    CHECK(chosen("KRB_0448\r\n42\n\n") == "015");
}

TEST_CASE("the photo index tells which frame a file with another name shows") {
    CHECK(chosen("448", index_rows()) == "013");
    CHECK(chosen("450", index_rows()) == "24");
    CHECK(chosen("KRB_0448", index_rows()) == "013");
    CHECK(chosen("holt-001.jpg", index_rows()) == "3");
}

TEST_CASE("what means no frame is told") {
    CHECK(chosen("448,9999,NOBODY_1") == "01 ?9999 ?NOBODY_1");
    CHECK(chosen("2014") == " ?2014");
    CHECK_THROWS_AS(job::FrameChoice::parse(" , \n"), Error);
    CHECK_THROWS_AS(job::FrameChoice::parse("450-448"), Error);
}

TEST_CASE("the number in a file name") {
    CHECK(job::frame_number("KRB_0448") == 448);
    CHECK(job::frame_number("KRB_0448-2") == 448);
    CHECK(job::frame_number("holt_2014-06-21_0042") == 42);
    CHECK(job::frame_number("20140621-00042") == 42);
    CHECK(job::frame_number("holt 7") == 7);
    CHECK(job::frame_number("holt") == 0);
}

#include "glassine/job/frames_csv.h"

#include "glassine/base/error.h"
#include "glassine/base/text.h"
#include "seeded_job.h"
#include "support/temp_folder.h"

#include <cstdio>
#include <fstream>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace std::chrono_literals;
using namespace std::string_literals;
using job::FrameRow;

namespace {

/// A row with everything that makes CSV hard.
FrameRow awkward_row() {
    FrameRow row;
    row.frame = "=SUM(A1)";
    row.make = "Quillon, \"Sons\" & Co";
    row.model = "'=quoted'";
    row.serial = "-0042";
    row.captured = "2025-09-06T14:03:22.130+02:00";
    row.state = "rejected";
    row.originals = {"data/originals/a,b.DNG", "data/originals/new\nline 100%25.DNG"};
    row.print = {"data/print/\"quoted\".jpg"};
    row.web = {"data/web/\xff\xfe.jpg", "data/web/ünlü.jpg", "data/web/a;b|c.jpg"};
    row.proxies = {"data/reject-proxies/x.jpg"};
    row.rejected_raws = {{"rejects/a.DNG", digest::digest_of(digest::Algorithm::sha512, "a")},
                         {"/elsewhere/b.DNG", {}}};
    row.broken = {"rejects/a.DNG"};
    return row;
}

std::string refusal(std::string_view csv) {
    try {
        job::parse_frames_csv(csv, "frames.csv");
    } catch (const Error& error) {
        CHECK(error.cause() == Cause::malformed);
        return error.why();
    }
    return {};
}

std::string run(const std::string& command) {
    std::string output;
    FILE* pipe = popen(command.c_str(), "r");
    REQUIRE(pipe != nullptr);
    char buffer[4096];
    while (const std::size_t n = fread(buffer, 1, sizeof buffer, pipe))
        output.append(buffer, n);
    CHECK(pclose(pipe) == 0);
    return output;
}

}  // namespace

TEST_CASE("every frame of a job has a row with all that stands for it") {
    test::SeededJob job = test::clean_job();
    job.remove("rejects/QX2_9993.JPG");
    job.at("rejects/QX2_9993.DNG").proxy_made = true;
    job.at("web/okafor-gala-001.jpg").picture.verdict = photo::Verdict::broken;
    job.at("originals/QX2_9990.DNG").picture.captured->utc_offset = -210min;
    const auto accounting = job.account();
    const auto rows = job::frame_rows(job.files, job.observed, accounting);
    REQUIRE(rows.size() == 60);

    const FrameRow& kept = rows[0];
    CHECK(kept.frame == "QX2_9990");
    CHECK(kept.make == "Quillon");
    CHECK(kept.model == "Quillon QX-2");
    CHECK(kept.serial == "440017");
    CHECK(kept.captured == "2025-09-06T10:00:00.000-03:30");
    CHECK(kept.state == "kept");
    CHECK(kept.originals == std::vector{"data/originals/QX2_9990.DNG"s});
    CHECK(kept.sidecars == std::vector{"data/originals/QX2_9990.xmp"s});
    CHECK(kept.print == std::vector{"data/print/okafor-gala-001.jpg"s});
    CHECK(kept.web == std::vector{"data/web/okafor-gala-001.jpg"s});
    CHECK(kept.proxies.empty());
    CHECK(kept.broken == std::vector{"data/web/okafor-gala-001.jpg"s});

    const auto rejected = std::ranges::find(rows, "QX2_9993", &FrameRow::frame);
    REQUIRE(rejected != rows.end());
    CHECK(rejected->state == "rejected");
    CHECK(rejected->proxies == std::vector{"data/reject-proxies/QX2_9993.jpg"s});
    REQUIRE(rejected->rejected_raws.size() == 1);
    CHECK(rejected->rejected_raws[0].path == "rejects/QX2_9993.DNG");
    CHECK(rejected->rejected_raws[0].sha512 == job.at("rejects/QX2_9993.DNG").sha512);
}

TEST_CASE("what is written is read back, whatever the names") {
    test::SeededJob job = test::clean_job();
    std::vector<FrameRow> rows = job::frame_rows(job.files, job.observed, job.account());
    rows.push_back(awkward_row());
    rows.back().thumbnail = "photo-index/thumbnails/0001.jpg";
    rows.push_back({});
    const std::string csv = job::frames_csv(rows);
    CHECK(text::is_utf8(csv));
    CHECK(job::parse_frames_csv(csv, "frames.csv") == rows);
}

TEST_CASE("a list from before frames told of their small pictures is read") {
    FrameRow row;
    row.frame = "QX2_0001";
    row.thumbnail = "photo-index/thumbnails/0001.jpg";
    std::string csv = job::frames_csv(std::vector{row});
    for (const std::string_view column : {",thumbnail", ",photo-index/thumbnails/0001.jpg"})
        csv.erase(csv.find(column), column.size());
    row.thumbnail.clear();
    CHECK(job::parse_frames_csv(csv, "frames.csv") == std::vector{row});
}

// RFC 4180 §2 as another reader understands it: Python's csv module.
TEST_CASE("an independent reader finds the same fields") {
    const test::TempFolder folder;
    const std::string csv = job::frames_csv(std::vector{awkward_row()});
    folder.write("frames.csv", csv);
    const std::string output = run(
        "python3 -c 'import csv,sys\n"
        "rows = list(csv.DictReader(open(sys.argv[1], newline=\"\", encoding=\"utf-8\"), "
        "strict=True))\n"
        "print(len(rows)); r = rows[0]\n"
        "print(r[\"frame\"]); print(r[\"make\"]); print(r[\"originals\"]); print(r[\"broken\"])' " +
        (folder / "frames.csv").string());
    CHECK(output ==
          "1\n'=SUM(A1)\nQuillon, \"Sons\" & Co\n"
          "data/originals/a,b.DNG//data/originals/new%0Aline 100%2525.DNG\nrejects/a.DNG\n");
}

TEST_CASE("lines end in CRLF and no cell begins a formula") {
    const std::string csv = job::frames_csv(std::vector{awkward_row()});
    CHECK(std::ranges::count(csv, '\n') == 2);
    CHECK(csv.ends_with("\r\n"));
    CHECK(csv.find("\r\n=") == std::string::npos);
    CHECK(csv.find(",-0042") == std::string::npos);
}

TEST_CASE("LF line ends, another order and unknown columns are read") {
    const std::string header =
        "state,extra,frame,make,model,serial,captured,originals,sidecars,print,web,proxies,"
        "broken,rejected_raws,rejected_raws_sha512\n";
    const auto rows = job::parse_frames_csv(
        header + "kept,\"1,\n2\",A1,,,,,data/originals/a.DNG//data/originals/b.JPG,,,,,,,\n",
        "frames.csv");
    REQUIRE(rows.size() == 1);
    CHECK(rows[0].frame == "A1");
    CHECK(rows[0].originals.size() == 2);
    CHECK(job::parse_frames_csv(header, "frames.csv").empty());
}

TEST_CASE("what is no list of frames is refused with its line") {
    const std::string good = job::frames_csv(std::vector{awkward_row(), awkward_row()});
    const std::string header = good.substr(0, good.find('\n') + 1);
    CHECK_THAT(refusal(""), Catch::Contains("line 0: the file is empty"));
    CHECK_THAT(refusal("a,b\r\n"), Catch::Contains("line 1: the column frame is not there"));
    CHECK_THAT(refusal("frame," + header),
               Catch::Contains("the column frame is not there exactly once"));
    CHECK_THAT(refusal(header + "a,b\r\n"), Catch::Contains("line 2: there are 2 fields"));
    CHECK_THAT(refusal(header + "\"a"), Catch::Contains("line 2: a quoted field does not end"));
    CHECK_THAT(refusal(header + "\"a\"b\r\n"), Catch::Contains("text behind a quoted field"));
    CHECK_THAT(refusal(header + "a\"b\r\n"), Catch::Contains("quote inside an unquoted field"));
    CHECK_THAT(refusal(header + ",,,,,,,,,,,a,zz,,\r\n"), Catch::Contains("no SHA-512"));
    CHECK_THAT(refusal(header + ",,,,,,,,,,,a,,,\r\n"), Catch::Contains("not as many digests"));
}

TEST_CASE("a file cut at any length is read in part or refused, never misread") {
    const std::vector<FrameRow> rows{awkward_row(), awkward_row()};
    const std::string csv = job::frames_csv(rows);
    for (std::size_t length = 0; length < csv.size(); ++length) {
        try {
            const auto read = job::parse_frames_csv(csv.substr(0, length), "frames.csv");
            CHECK(read.size() <= rows.size());
        } catch (const Error& error) {
            CHECK(error.cause() == Cause::malformed);
        }
    }
}

TEST_CASE("the page about the photo index names every column") {
    const std::string page = test::content_of(SOURCE_TREE "/docs/photo-index.md");
    std::string header = job::frames_csv({});
    header.erase(header.find('\r'));
    std::size_t begin = 0;
    while (begin <= header.size()) {
        const std::size_t end = std::min(header.find(',', begin), header.size());
        const std::string column = header.substr(begin, end - begin);
        CAPTURE(column);
        CHECK(page.find("| `" + column + "` |") != std::string::npos);
        begin = end + 1;
    }
    CHECK(page.find(header) != std::string::npos);
}

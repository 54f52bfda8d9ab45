#include "glassine/job/accounting.h"

#include "seeded_job.h"

#include <algorithm>

#include <catch2/catch.hpp>
#include <fmt/format.h>

using namespace glassine;
using namespace std::chrono_literals;
using job::Section;
using test::Camera;
using test::SeededJob;

namespace {

/// Exactly one finding, of this kind, with this path; gives back its detail.
std::string only_finding(const job::Accounting& accounting, FindingKind kind,
                         const std::string& path, Severity severity) {
    for (const Finding& finding : accounting.findings)
        UNSCOPED_INFO(word(finding.kind) << " " << finding.path << ": " << finding.detail);
    REQUIRE(accounting.findings.size() == 1);
    CHECK(word(accounting.findings[0].kind) == word(kind));
    CHECK(accounting.findings[0].path == path);
    CHECK(word(accounting.findings[0].severity) == word(severity));
    return accounting.findings[0].detail;
}

bool holds(const std::string& text, std::string_view part) {
    INFO(text);
    return text.find(part) != std::string::npos;
}

/// Removes raw and sidecar of a kept frame of the clean job.
void lose_original(SeededJob& job, const std::string& name) {
    job.remove("originals/" + name + ".DNG");
    job.remove("originals/" + name + ".xmp");
}

}  // namespace

TEST_CASE("a broken picture is found with the place where it breaks") {
    SeededJob job = test::clean_job();
    photo::Picture& picture = job.at("print/okafor-gala-007.jpg").picture;
    picture.verdict = photo::Verdict::broken;
    picture.why = "ends in the middle of its data";
    picture.broken_offset = 123456;
    picture.lost_from_line = 900;
    const auto accounting = job.account();
    const std::string detail = only_finding(accounting, FindingKind::image_broken,
                                            "print/okafor-gala-007.jpg", Severity::blocking);
    CHECK(detail == "ends in the middle of its data (lost from line 900 of 1600)");
    CHECK(accounting.findings[0].offset == 123456);
    CHECK(accounting.summary.total.broken == 1);
    CHECK(accounting.summary.bodies[0].broken == 1);
}

TEST_CASE("a broken raw that no longer tells body and time keeps its place in the counting") {
    SeededJob job = test::clean_job();
    photo::Picture broken;
    broken.kind = photo::Kind::dng;
    broken.verdict = photo::Verdict::broken;
    broken.why = "its directory lies outside the file";
    job.at("originals/VESP0440.DNG").picture = broken;
    only_finding(job.account(), FindingKind::image_broken, "originals/VESP0440.DNG",
                 Severity::blocking);
}

TEST_CASE("a picture that no library can judge is a note") {
    SeededJob job = test::clean_job();
    job.at("originals/VESP0440.DNG").picture.verdict = photo::Verdict::not_checkable;
    job.at("originals/VESP0440.DNG").picture.why = "this camera's compression is not known";
    CHECK(only_finding(job.account(), FindingKind::image_not_checkable, "originals/VESP0440.DNG",
                       Severity::note) == "this camera's compression is not known");
}

TEST_CASE("files that are no pictures are not judged") {
    SeededJob job = test::clean_job();
    job.add(Section::originals, "dance.mov");
    job.add(Section::originals, "dance.xmp");
    job.at("originals/dance.xmp").picture.verdict = photo::Verdict::whole;
    CHECK(job.account().findings.empty());
}

TEST_CASE("a delivered picture without its original is found once for print and web") {
    SeededJob job = test::clean_job();
    lose_original(job, "QX2_9991");
    const auto accounting = job.account();
    const std::string detail = only_finding(accounting, FindingKind::delivered_without_original,
                                            "print/okafor-gala-002.jpg", Severity::blocking);
    CHECK(holds(detail, "1 more picture"));
    CHECK(accounting.summary.total.kept == 45);
}

TEST_CASE("a delivered picture whose original was rejected is found") {
    SeededJob job = test::clean_job();
    // QX2_9993 is the first rejected frame.
    const photo::Picture raw = job.at("rejects/QX2_9993.DNG").picture;
    job.add(Section::web, "extra.jpg", SeededJob::exported(raw, "QX2_9993.DNG"));
    CHECK(holds(only_finding(job.account(), FindingKind::delivered_without_original,
                             "web/extra.jpg", Severity::blocking),
                "rejects/QX2_9993.DNG lies in the rejects"));
}

TEST_CASE("originals never delivered are one note") {
    SeededJob job = test::clean_job();
    job.remove("print/okafor-gala-003.jpg");
    CHECK(job.account().findings.empty());
    job.remove("web/okafor-gala-003.jpg");
    only_finding(job.account(), FindingKind::original_not_delivered, "originals/QX2_9992.DNG",
                 Severity::note);
    for (const int n : {4, 5, 6}) {
        job.remove(fmt::format("print/okafor-gala-{:03}.jpg", n));
        job.remove(fmt::format("web/okafor-gala-{:03}.jpg", n));
    }
    CHECK(only_finding(job.account(), FindingKind::original_not_delivered, "originals",
                       Severity::note) ==
          "4 of 46 kept frames were never delivered: QX2_9992, QX2_9994, QX2_9995, QX2_9996");
}

TEST_CASE("a rejected raw without a JPEG is found unless one could be made") {
    SeededJob job = test::clean_job();
    job.remove("rejects/QX2_9993.JPG");
    CHECK(raws_without_proxy(job.files) == std::vector{job.find("rejects/QX2_9993.DNG")});
    only_finding(job.account(), FindingKind::reject_without_proxy, "rejects/QX2_9993.DNG",
                 Severity::blocking);

    job.at("rejects/QX2_9993.DNG").proxy_why = "no preview decodes";
    CHECK(holds(only_finding(job.account(), FindingKind::reject_without_proxy,
                             "rejects/QX2_9993.DNG", Severity::blocking),
                "none could be made: no preview decodes"));

    job.at("rejects/QX2_9993.DNG").proxy_made = true;
    const auto accounting = job.account();
    CHECK(accounting.findings.empty());
    REQUIRE(accounting.made_proxies.size() == 1);
    CHECK(accounting.made_proxies[0].raw == job.find("rejects/QX2_9993.DNG"));
    CHECK(accounting.made_proxies[0].name == "data/reject-proxies/QX2_9993.jpg");
}

TEST_CASE("made proxies never take a name that is taken") {
    SeededJob job = test::clean_job();
    Camera other{"Quillon", "Quillon QX-2", "440099", "QX2_", 700};
    for (const char* name : {"QX2_0700.DNG", "QX2_0700.RAW", "b/QX2_9993.DNG"}) {
        job.add(Section::rejects, name,
                SeededJob::shot(other, test::clean_moment(0, 3) + job.files.size() * 1ms));
        job.at(std::string("rejects/") + name).proxy_made = true;
    }
    const auto made = job.account().made_proxies;
    REQUIRE(made.size() == 3);
    CHECK(made[0].name == "data/reject-proxies/QX2_0700.jpg");
    CHECK(made[1].name == "data/reject-proxies/QX2_0700.RAW.jpg");
    CHECK(made[2].name == "data/reject-proxies/b/QX2_9993.jpg");
}

TEST_CASE("a JPEG in another folder stands for a raw unless it may be another body's") {
    SeededJob job;
    for (const char* name : {"raw/QX2_0001.DNG", "jpeg/qx2_0001.jpg", "a/QX2_0002.DNG",
                             "a/QX2_0002.JPG", "b/QX2_0002.DNG"})
        job.add(Section::rejects, name);
    CHECK(raws_without_proxy(job.files) == std::vector{job.find("rejects/b/QX2_0002.DNG")});
}

TEST_CASE("a sidecar without its raw is found") {
    SeededJob job = test::clean_job();
    photo::Picture sidecar;
    sidecar.kind = photo::Kind::xmp;
    sidecar.verdict = photo::Verdict::whole;
    SECTION("of no frame at all") {
        job.add(Section::originals, "QX2_0815.xmp", sidecar);
        only_finding(job.account(), FindingKind::sidecar_orphan, "originals/QX2_0815.xmp",
                     Severity::warning);
    }
    SECTION("left behind when its raw was rejected") {
        job.add(Section::originals, "QX2_9993.xmp", sidecar);
        CHECK(holds(only_finding(job.account(), FindingKind::sidecar_orphan,
                                 "originals/QX2_9993.xmp", Severity::warning),
                    "rejects/QX2_9993.DNG lies in another folder"));
    }
    SECTION("but not beside its raw, whichever way it is named") {
        job.rename("originals/QX2_9990.xmp", "QX2_9990.DNG.xmp");
        job.add(Section::rejects, "qx2_9993.XMP", sidecar);
        CHECK(job.account().findings.empty());
    }
}

TEST_CASE("the same content twice is found") {
    SeededJob job = test::clean_job();
    job.at("web/okafor-gala-009.jpg").sha512 = job.at("print/okafor-gala-009.jpg").sha512;
    CHECK(only_finding(job.account(), FindingKind::duplicate_content, "web/okafor-gala-009.jpg",
                       Severity::warning) == "holds the same bytes as print/okafor-gala-009.jpg");
}

TEST_CASE("a raw that is there twice is one frame") {
    SeededJob job = test::clean_job();
    const job::Observed raw = job.at("originals/QX2_9991.DNG");
    job.add(Section::originals, "backup/QX2_9991.DNG");
    job.at("originals/backup/QX2_9991.DNG") = raw;
    const auto accounting = job.account();
    only_finding(accounting, FindingKind::duplicate_content, "originals/backup/QX2_9991.DNG",
                 Severity::warning);
    CHECK(accounting.frames.size() == 60);
}

TEST_CASE("two frames of one name are found") {
    SeededJob job = test::clean_job();
    photo::Picture other = job.at("originals/VESP0440.DNG").picture;
    other.captured->local += 17min;
    SECTION("told apart by body or time: a warning") {
        other.serial = "V7-0100";
        job.add(Section::originals, "second/VESP0440.DNG", other);
        job.add(Section::web, "second.jpg", SeededJob::exported(other, "VESP0440.DNG"));
        only_finding(job.account(), FindingKind::duplicate_name, "originals/second/VESP0440.DNG",
                     Severity::warning);
    }
    SECTION("a raw and a JPEG of one name in one folder that show different frames") {
        other.kind = photo::Kind::jpeg;
        job.add(Section::originals, "VESP0440.JPG", other);
        job.add(Section::web, "second.jpg", SeededJob::exported(other, "VESP0440.JPG"));
        only_finding(job.account(), FindingKind::duplicate_name, "originals/VESP0440.JPG",
                     Severity::blocking);
    }
}

TEST_CASE("camera JPEGs belong to their raws wherever they lie") {
    SeededJob job = test::clean_job();
    const photo::Picture raw = job.at("originals/QX2_9990.DNG").picture;
    job.add(Section::originals, "QX2_9990.JPG", SeededJob::exported(raw, {}));
    job.add(Section::originals, "jpeg/QX2_9990.JPG", SeededJob::exported(raw, {}));
    photo::Picture bare;
    bare.kind = photo::Kind::jpeg;
    bare.verdict = photo::Verdict::whole;
    job.add(Section::originals, "jpeg/QX2_9991.JPG", bare);
    const auto accounting = job.account();
    CHECK(accounting.findings.empty());
    CHECK(accounting.frames.size() == 60);
    CHECK(accounting.frames[0].originals.size() == 3);
}

TEST_CASE("exports are recognised in the ways that people make them") {
    SeededJob job = test::clean_job();
    photo::Picture& web = job.at("web/okafor-gala-001.jpg").picture;
    const photo::Picture stripped = [&] {
        photo::Picture bare = web;
        bare.make = bare.model = bare.serial = bare.original_name = {};
        bare.captured.reset();
        return bare;
    }();
    SECTION("only the time is left, without sub-seconds") {
        web = stripped;
        web.captured = job.at("originals/QX2_9990.DNG").picture.captured;
        web.captured->local = std::chrono::floor<std::chrono::seconds>(web.captured->local);
        web.captured->has_subseconds = false;
    }
    SECTION("nothing is left, but the print of the same name is known") {
        web = stripped;
    }
    SECTION("nothing is left but the camera's name") {
        web = stripped;
        job.rename("web/okafor-gala-001.jpg", "qx2_9990.jpg");
    }
    SECTION("an editing step is appended") {
        web = stripped;
        job.rename("web/okafor-gala-001.jpg", "QX2_9990-bw-2.jpg");
    }
    SECTION("the camera's name stands in the middle") {
        web = stripped;
        job.rename("web/okafor-gala-001.jpg", "okafor_QX2_9990_final.jpg");
    }
    SECTION("the original name is a path") {
        web = stripped;
        web.original_name = "D:\\cards\\QX2_9990.DNG";
        job.rename("web/okafor-gala-001.jpg", "cover.jpg");
    }
    SECTION("there are two versions of it") {
        job.add(Section::web, "cover.jpg", web);
        job.at("web/cover.jpg").picture.width = 800;
    }
    const auto accounting = job.account();
    for (const Finding& finding : accounting.findings)
        UNSCOPED_INFO(word(finding.kind) << " " << finding.path << ": " << finding.detail);
    CHECK(accounting.findings.empty());
    CHECK(accounting.frames.size() == 60);
    CHECK(accounting.frames[0].web.size() >= 1);
}

TEST_CASE("an export without any evidence is not guessed at") {
    SeededJob job = test::clean_job();
    photo::Picture bare = job.at("web/okafor-gala-001.jpg").picture;
    bare.make = bare.model = bare.serial = bare.original_name = {};
    bare.captured.reset();
    job.add(Section::web, "unknown.jpg", bare);
    only_finding(job.account(), FindingKind::delivered_without_original, "web/unknown.jpg",
                 Severity::blocking);
}

TEST_CASE(
    "capture times that were set right in the exports do not part them from their originals") {
    SeededJob job = test::clean_job();
    // The studio found the second body 67 seconds ahead and corrected its exports, not its raws.
    for (std::size_t i = 0; i < job.files.size(); ++i) {
        photo::Picture& picture = job.observed[i].picture;
        const bool delivered =
            job.files[i].section == Section::print || job.files[i].section == Section::web;
        if (delivered && picture.model == "V7") picture.captured->local -= 67s;
    }
    const auto accounting = job.account();
    CHECK(accounting.findings.empty());
    CHECK(accounting.frames.size() == 60);
}

TEST_CASE("bursts without sub-seconds do not confuse exports that kept no name") {
    SeededJob job = test::clean_job();
    Camera camera{"Vesper", "V7", "V7-0099", "VESP", 461};
    for (int k = 0; k < 5; ++k) {
        photo::Picture picture = SeededJob::shot(camera, test::clean_moment(1, 29) + 5min);
        picture.captured->has_subseconds = false;
        const std::string name = test::next_name(camera);
        job.add(Section::originals, name, picture);
        job.add(Section::web, fmt::format("burst-{}.jpg", k), SeededJob::exported(picture, {}));
    }
    const auto accounting = job.account();
    CHECK(accounting.findings.empty());
    CHECK(accounting.frames.size() == 65);
}

TEST_CASE("a job of nothing is accounted for") {
    const auto accounting = job::account({}, {}, {});
    CHECK(accounting.frames.empty());
    CHECK(accounting.findings.empty());
    CHECK(accounting.summary.total.shot == 0);
}

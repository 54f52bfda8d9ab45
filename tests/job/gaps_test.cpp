#include "glassine/base/text.h"
#include "glassine/job/accounting.h"
#include "glassine/photo/dcf.h"
#include "seeded_job.h"

#include <algorithm>
#include <functional>
#include <random>

#include <catch2/catch.hpp>
#include <fmt/format.h>

using namespace glassine;
using namespace std::chrono_literals;
using job::Section;
using test::Camera;
using test::SeededJob;

namespace {

using Moment = std::chrono::local_time<std::chrono::milliseconds>;

constexpr Moment ten = std::chrono::local_days(2025y / 9 / 6) + 10h;

/// Shoots `count` frames a minute apart into the originals and tells when the last one was made.
Moment shoot(SeededJob& job, Camera& camera, int count, Moment from, const std::string& folder = "",
             const std::function<bool(int)>& lost = {}) {
    for (int k = 0; k < count; ++k) {
        const int number = camera.number;
        const std::string name = test::next_name(camera);
        if (!lost || !lost(number))
            job.add(Section::originals, folder + name, SeededJob::shot(camera, from + k * 1min));
    }
    return from + (count - 1) * 1min;
}

std::vector<Finding> gaps_of(const SeededJob& job) {
    std::vector<Finding> gaps = job.account().findings;
    for (const Finding& finding : gaps)
        UNSCOPED_INFO(word(finding.kind) << " " << finding.path << ": " << finding.detail);
    std::erase_if(gaps,
                  [](const Finding& finding) { return finding.kind != FindingKind::frame_gap; });
    return gaps;
}

/// A job of `frames` frames a minute apart whose numbers a die gave.
SeededJob random_numbers(const Camera& camera, int frames, bool timed = true) {
    SeededJob job;
    std::mt19937 dice(5);  // the same on every machine; std::uniform_int_distribution is not
    for (int k = 0; k < frames; ++k) {
        Camera shooting = camera;
        shooting.number = static_cast<int>(dice() % photo::dcf::last_number) + 1;
        photo::Picture picture = SeededJob::shot(shooting, ten + k * 1min);
        if (!timed) picture.captured.reset();
        const std::string folder = fmt::format("{}/", k);
        job.add(Section::originals, folder + test::next_name(shooting), picture);
    }
    return job;
}

auto is(int first, int last) {
    return [=](int number) { return number >= first && number <= last; };
}

}  // namespace

TEST_CASE("a number missing in the counting is found, over kept and rejected frames together") {
    SeededJob job = test::clean_job();
    SECTION("a kept frame and its pictures vanished") {
        for (const char* lost : {"originals/VESP0440.DNG", "originals/VESP0440.xmp",
                                 "print/okafor-gala-031.jpg", "web/okafor-gala-031.jpg"})
            job.remove(lost);
        const auto accounting = job.account();
        REQUIRE(accounting.findings.size() == 1);
        CHECK(accounting.findings[0].kind == FindingKind::frame_gap);
        CHECK(accounting.findings[0].path == "originals/VESP0439.DNG");
        CHECK(accounting.findings[0].severity == Severity::warning);
        CHECK(accounting.findings[0].detail ==
              "one number is missing after this frame of Vesper V7, serial V7-0099: VESP0440");
        CHECK(accounting.summary.total.missing == 1);
        CHECK(accounting.summary.bodies[1].missing == 1);
    }
    SECTION("a rejected frame vanished") {
        job.remove("rejects/VESP0442.DNG");
        job.remove("rejects/VESP0442.JPG");
        const auto gaps = gaps_of(job);
        REQUIRE(gaps.size() == 1);
        CHECK(gaps[0].path == "originals/VESP0441.DNG");
    }
}

// DCF 2.0: 0001 follows 9999; 0000 is no file number. So two are missing from 9998 to 0002.
TEST_CASE("counting goes on with 0001 after 9999") {
    SeededJob job;
    Camera camera{"Quillon", "QX-2", "1", "QX2_", 9990};
    SECTION("nothing is missing") {
        shoot(job, camera, 20, ten);
        CHECK(gaps_of(job).empty());
    }
    SECTION("the numbers around the wrap are missing") {
        shoot(job, camera, 20, ten, "", [](int n) { return n == 9999 || n == 1; });
        const auto gaps = gaps_of(job);
        REQUIRE(gaps.size() == 1);
        CHECK(gaps[0].path == "originals/QX2_9998.DNG");
        CHECK(gaps[0].detail.ends_with("QX2_9999 to QX2_0001"));
        CHECK(gaps[0].detail.starts_with("2 numbers"));
    }
}

TEST_CASE("folders of a card may go on counting or begin again") {
    SeededJob job;
    Camera camera{"Quillon", "QX-2", "1", "QX2_", 350};
    const Moment noon = shoot(job, camera, 20, ten, "100QUILL/") + 1min;
    SECTION("on with the next number") {
        shoot(job, camera, 20, noon, "101QUILL/");
        CHECK(gaps_of(job).empty());
    }
    SECTION("on, with a hole between the folders: perhaps a whole card") {
        camera.number += 430;
        shoot(job, camera, 20, noon, "101QUILL/");
        const auto gaps = gaps_of(job);
        REQUIRE(gaps.size() == 1);
        CHECK(gaps[0].detail.starts_with("430 numbers"));
    }
    SECTION("again from 0001") {
        camera.number = 1;
        shoot(job, camera, 20, noon, "101QUILL/");
        CHECK(gaps_of(job).empty());
    }
    SECTION("again from 0001, with a hole in the second round only") {
        camera.number = 1;
        const Moment later = shoot(job, camera, 360, noon, "101QUILL/", is(355, 356)) + 1min;
        CHECK(gaps_of(job).size() == 1);
        shoot(job, camera, 3, later, "102QUILL/");
        const auto gaps = gaps_of(job);
        REQUIRE(gaps.size() == 1);
        CHECK(gaps[0].path == "originals/101QUILL/QX2_0354.DNG");
    }
}

TEST_CASE("bodies with one prefix are counted each on its own") {
    SeededJob job;
    Camera one{"Quillon", "QX-2", "1", "QX2_", 1000};
    Camera two{"Quillon", "QX-2", "2", "QX2_", 1010};
    shoot(job, one, 40, ten, "a/");
    SECTION("nothing is missing") {
        shoot(job, two, 40, ten + 30s, "b/");
        CHECK(gaps_of(job).empty());
    }
    SECTION("a number that the other body has is missing all the same") {
        shoot(job, two, 40, ten + 30s, "b/", is(1020, 1021));
        const auto gaps = gaps_of(job);
        REQUIRE(gaps.size() == 1);
        CHECK(gaps[0].path == "originals/b/QX2_1019.DNG");
    }
}

TEST_CASE("bodies that cannot be told apart raise no false alarm") {
    SeededJob job;
    Camera one{"Quillon", "QX-2", "", "QX2_", 1000};
    Camera two{"Quillon", "QX-2", "", "QX2_", 1030};
    Camera three{"Quillon", "QX-2", "", "QX2_", 7700};
    shoot(job, one, 60, ten, "a/");
    shoot(job, two, 60, ten + 20s, "b/");
    SECTION("nothing is missing") {
        shoot(job, three, 60, ten + 40s, "c/");
        CHECK(gaps_of(job).empty());
    }
    SECTION("but small holes are found") {
        shoot(job, three, 60, ten + 40s, "c/", is(7710, 7712));
        const auto gaps = gaps_of(job);
        REQUIRE(gaps.size() == 1);
        CHECK(gaps[0].path == "originals/c/QX2_7709.DNG");
        CHECK(gaps[0].detail.starts_with("3 numbers"));
    }
}

TEST_CASE("files without any metadata are counted by name") {
    SeededJob job;
    photo::Picture bare;
    bare.kind = photo::Kind::jpeg;
    bare.verdict = photo::Verdict::whole;
    for (int n = 9995; n != 6; n = photo::dcf::next(n)) {
        if (n != 9998) job.add(Section::originals, fmt::format("ABCD{:04}.JPG", n), bare);
    }
    const auto gaps = gaps_of(job);
    REQUIRE(gaps.size() == 1);
    CHECK(gaps[0].path == "originals/ABCD9997.JPG");
}

TEST_CASE("a burst whose frames share a second is counted in any order") {
    SeededJob job;
    Camera camera{"Quillon", "QX-2", "1", "QX2_", 9995};
    for (int k = 0; k < 12; ++k) {
        photo::Picture picture = SeededJob::shot(camera, ten);
        picture.captured->has_subseconds = false;
        job.add(Section::originals, test::next_name(camera), picture);
    }
    shoot(job, camera, 5, ten + 1min);
    CHECK(gaps_of(job).empty());
}

TEST_CASE("both prefixes of a body that changes its colour space belong to one counting") {
    SeededJob job;
    Camera camera{"Quillon", "QX-2", "1", "QXA_", 10};
    const Moment later = shoot(job, camera, 10, ten);
    camera.prefix = "_QXA";
    shoot(job, camera, 10, later + 1min);
    CHECK(gaps_of(job).empty());
}

TEST_CASE("renamed raws are counted by the name that metadata kept, or not at all") {
    SeededJob job;
    Camera camera{"Quillon", "QX-2", "1", "QX2_", 10};
    for (int k = 0; k < 20; ++k) {
        photo::Picture picture = SeededJob::shot(camera, ten + k * 1min);
        picture.original_name = test::next_name(camera);
        if (k != 7) job.add(Section::originals, fmt::format("gala {}.DNG", 100 + 3 * k), picture);
    }
    SECTION("with the original name") {
        const auto gaps = gaps_of(job);
        REQUIRE(gaps.size() == 1);
        CHECK(gaps[0].path == "originals/gala 118.DNG");
        CHECK(gaps[0].detail.ends_with(": QX2_0017"));
    }
    SECTION("without it") {
        for (job::Observed& one : job.observed)
            one.picture.original_name.clear();
        CHECK(gaps_of(job).empty());
    }
    SECTION("a frame without a number may be the missing one") {
        photo::Picture nameless = SeededJob::shot(camera, ten + 7min);
        job.add(Section::originals, "best.DNG", nameless);
        CHECK(gaps_of(job).empty());
    }
}

TEST_CASE("a sequence that people gave over several bodies is no camera's counting") {
    SeededJob job;
    Camera one{"Quillon", "QX-2", "1", "GALA", 1};
    Camera two{"Vesper", "V7", "2", "GALA", 1};
    for (int n = 1; n <= 60; ++n) {
        Camera& camera = (n / 3 + n % 7) % 2 == 0 ? one : two;
        if (n != 31)
            job.add(Section::originals, fmt::format("GALA{:04}.DNG", n),
                    SeededJob::shot(camera, ten + n * 1min));
    }
    const auto gaps = gaps_of(job);
    REQUIRE(gaps.size() == 1);
    CHECK(gaps[0].path == "originals/GALA0030.DNG");
}

TEST_CASE("a clock that was set back during the day makes no gaps") {
    SeededJob job;
    Camera camera{"Quillon", "QX-2", "1", "QX2_", 100};
    shoot(job, camera, 60, ten);
    shoot(job, camera, 60, ten + 30s);
    CHECK(gaps_of(job).empty());
}

TEST_CASE("numbers missing over days may belong to another job: a note") {
    SeededJob job;
    Camera camera{"Quillon", "QX-2", "1", "QX2_", 100};
    shoot(job, camera, 20, ten);
    camera.number += 300;
    shoot(job, camera, 20, ten + 72h);
    const auto gaps = gaps_of(job);
    REQUIRE(gaps.size() == 1);
    CHECK(gaps[0].severity == Severity::note);
}

// A job of 6,000 frames gave 59,267 findings.
TEST_CASE("numbers that follow no counting are one finding for each body") {
    SECTION("bodies without a serial number") {
        const int frames = GENERATE(60, 600, 6000);
        const SeededJob job = random_numbers({"Quillon", "QX-2", "", "QX2_"}, frames);
        const auto gaps = gaps_of(job);
        REQUIRE(gaps.size() == 1);
        CHECK(gaps[0].severity == Severity::warning);
        CHECK(gaps[0].path == job.files[0].shown);
        CHECK(gaps[0].detail.starts_with(
            "the numbers of " + text::counted(static_cast<std::uint64_t>(frames), "frame") +
            " of Quillon QX-2, this one the first, follow no "));
        const auto summary = job.account().summary;
        CHECK_FALSE(summary.bodies[0].counted);
        CHECK_FALSE(summary.total.counted);
        CHECK(summary.total.missing == 0);
    }
    SECTION("names that people gave to the frames of one body") {
        const int frames = GENERATE(60, 600, 6000);
        CHECK(gaps_of(random_numbers({"Quillon", "QX-2", "1", "QX2_"}, frames)).size() == 1);
    }
    SECTION("frames without a time") {
        CHECK(gaps_of(random_numbers({"Quillon", "QX-2", "", "QX2_"}, 6000, false)).size() == 1);
    }
    SECTION("and the gaps of the other bodies are found") {
        SeededJob job = random_numbers({"Quillon", "QX-2", "", "QX2_"}, 600);
        Camera other{"Vesper", "V7", "2", "VESP", 100};
        shoot(job, other, 100, ten, "", is(140, 142));
        const auto gaps = gaps_of(job);
        REQUIRE(gaps.size() == 2);
        CHECK(gaps[0].path == "originals/VESP0139.DNG");
        CHECK(job.account().summary.total.missing == 3);
    }
}

TEST_CASE("two bodies that tell one serial number follow no counting") {
    SeededJob job;
    Camera one{"Quillon", "QX-2", "0", "QX2_", 1000};
    Camera two{"Quillon", "QX-2", "0", "QX2_", 3000};
    for (int spell = 0; spell < 12; ++spell) {
        shoot(job, one, 20, ten + spell * 40min, "a/");
        shoot(job, two, 20, ten + spell * 40min + 20min, "b/");
    }
    CHECK(gaps_of(job).size() == 1);
}

TEST_CASE("large gaps and many gaps are still a counting") {
    SeededJob job;
    const std::string serial = GENERATE("1", "");
    Camera camera{"Quillon", "QX-2", serial, "QX2_", 9000};
    SECTION("a card of a thousand frames was lost") {
        shoot(job, camera, 3000, ten, "", [](int n) { return photo::dcf::steps(9500, n) < 1000; });
        const auto gaps = gaps_of(job);
        if (serial.empty()) {  // it may as well have been another body's turn
            CHECK(gaps.empty());
        } else {
            REQUIRE(gaps.size() == 1);
            CHECK(gaps[0].path == "originals/QX2_9499.DNG");
            CHECK(gaps[0].detail.starts_with("1000 numbers"));
            CHECK(gaps[0].detail.ends_with("QX2_9500 to QX2_0500"));
        }
    }
    SECTION("of every four frames three were deleted in the camera") {
        shoot(job, camera, 1200, ten, "", [](int n) { return n % 4 != 0; });
        CHECK(gaps_of(job).size() == 299);
    }
    SECTION("each card begins anew, and one of them is lost") {
        Moment from = ten;
        for (int card = 0; card < 8; ++card) {
            camera.number = 1;
            const auto lost = card == 4 ? is(1, 300) : is(151, 152);
            from = shoot(job, camera, 300, from, fmt::format("{}/", card), lost) + 1min;
        }
        CHECK(gaps_of(job).size() == 7);  // of a lost round nothing can tell
    }
    SECTION("the clock was wrong: what is missing is missing once") {
        camera.number = 1;
        for (int k = 0; k < 400; ++k) {
            Camera shooting = camera;
            shooting.number = k * 7 % 401 + 1;  // 401 is a prime: each number once
            const int number = shooting.number;
            const std::string name = test::next_name(shooting);
            if (number % 50 != 3)
                job.add(Section::originals, name, SeededJob::shot(shooting, ten + k * 1min));
        }
        if (!serial.empty()) CHECK(gaps_of(job).size() == 9);
    }
}

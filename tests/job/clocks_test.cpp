#include "glassine/job/accounting.h"
#include "seeded_job.h"

#include <algorithm>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace std::chrono_literals;
using job::Section;
using test::Camera;
using test::SeededJob;

namespace {

using Moment = std::chrono::local_time<std::chrono::milliseconds>;
using std::chrono::minutes;

constexpr Moment midnight = std::chrono::local_days(2025y / 9 / 6);

const Camera first{"Quillon", "QX-2", "1", "QX2_", 1};
const Camera second{"Vesper", "V7", "2", "VESP", 1};

/// A frame every `every` from `from` to `to`, by the body's clock.
void shoot(SeededJob& job, Camera camera, Moment from, Moment to, minutes every = 3min,
           std::optional<minutes> zone = {}) {
    // Numbers go on where the body stopped.
    for (const job::JobFile& file : job.files)
        if (file.shown.find(camera.prefix) != std::string::npos) ++camera.number;
    for (Moment at = from; at <= to; at += every) {
        photo::Picture picture = SeededJob::shot(camera, at);
        picture.captured->utc_offset = zone;
        job.add(Section::originals, test::next_name(camera), picture);
    }
}

std::vector<Finding> clocks_of(const SeededJob& job) {
    std::vector<Finding> findings = job.account().findings;
    std::erase_if(findings, [](const Finding& finding) {
        return finding.kind != FindingKind::clock_mismatch;
    });
    for (const Finding& finding : findings)
        UNSCOPED_INFO(finding.path << ": " << finding.detail);
    return findings;
}

/// The clean job with the second body's clock set otherwise, exports included.
SeededJob shifted(std::chrono::seconds by) {
    SeededJob job = test::clean_job();
    // One frame less: the clock of the body with more frames is taken for right.
    for (const char* last : {"originals/VESP0460.DNG", "originals/VESP0460.xmp",
                             "print/okafor-gala-046.jpg", "web/okafor-gala-046.jpg"})
        job.remove(last);
    for (job::Observed& one : job.observed)
        if (one.picture.captured && one.picture.model == "V7") one.picture.captured->local += by;
    return job;
}

}  // namespace

TEST_CASE("a body whose clock is off by whole hours or days is found, with the shift") {
    const auto [by, words] = GENERATE(table<std::chrono::seconds, const char*>({
        {1h,
         "1 hour ahead of that of Quillon QX-2, serial 440017: taking 1 hour off its 29 frames"},
        {-1h, "1 hour behind that of Quillon QX-2, serial 440017: adding 1 hour to its 29 frames"},
        {2h, "2 hours ahead"},
        {-7h, "7 hours behind"},
        {12h, "12 hours ahead"},
        {24h, "1 day ahead"},
        {-48h, "2 days behind"},
        {365 * 24h, "365 days ahead"},
        {-3200 * 24h, "3,200 days behind"},
    }));
    CAPTURE(words);
    const SeededJob job = shifted(by);
    const auto accounting = job.account();
    for (const Finding& finding : accounting.findings)
        UNSCOPED_INFO(word(finding.kind) << " " << finding.path << ": " << finding.detail);
    REQUIRE(accounting.findings.size() == 1);
    const Finding& finding = accounting.findings[0];
    CHECK(finding.kind == FindingKind::clock_mismatch);
    CHECK(finding.severity == Severity::warning);
    CHECK(finding.path == "originals/VESP0431.DNG");
    CHECK_THAT(finding.detail, Catch::Contains(words));
}

TEST_CASE("the date of the job tells which of two clocks is right") {
    SeededJob job = shifted(-48h);
    job.question.date = 2025y / 9 / 4;
    const auto accounting = job.account();
    REQUIRE(accounting.findings.size() == 1);
    CHECK(accounting.findings[0].path == "originals/QX2_9990.DNG");
    CHECK_THAT(accounting.findings[0].detail, Catch::Contains("2 days ahead"));
}

TEST_CASE("small differences between clocks are no finding") {
    for (const std::chrono::seconds by : {-150s, -30s, 90s, 240s})
        CHECK(shifted(by).account().findings.empty());
}

TEST_CASE("photographers who share a day between them are no finding") {
    SeededJob job;
    SECTION("morning and afternoon") {
        shoot(job, first, midnight + 9h, midnight + 12h);
        shoot(job, second, midnight + 13h, midnight + 17h);
    }
    SECTION("morning and afternoon, equally long, by whole hours apart") {
        shoot(job, first, midnight + 9h, midnight + 12h);
        shoot(job, second, midnight + 13h, midnight + 16h);
    }
    SECTION("overlapping by half, by whole hours apart") {
        shoot(job, first, midnight + 10h, midnight + 14h);
        shoot(job, second, midnight + 12h, midnight + 16h);
    }
    SECTION("one after the other without a pause") {
        shoot(job, first, midnight + 10h, midnight + 11h);
        shoot(job, second, midnight + 11h, midnight + 12h);
    }
    SECTION("portraits every full hour, in turns") {
        for (int k = 0; k < 3; ++k) {
            shoot(job, first, midnight + 9h + k * 2h, midnight + 9h + k * 2h + 30min);
            shoot(job, second, midnight + 10h + k * 2h, midnight + 10h + k * 2h + 45min);
        }
    }
    SECTION("one comes later and goes earlier") {
        shoot(job, first, midnight + 9h, midnight + 22h);
        shoot(job, second, midnight + 12h, midnight + 20h);
    }
    SECTION("one works all day, the other at times") {
        shoot(job, first, midnight + 9h, midnight + 22h);
        shoot(job, second, midnight + 10h, midnight + 10h + 20min);
        shoot(job, second, midnight + 16h, midnight + 17h);
    }
    SECTION("the evening before and the day") {
        shoot(job, first, midnight - 6h, midnight - 2h);
        shoot(job, second, midnight + 10h, midnight + 23h);
    }
    SECTION("a few frames only") {
        shoot(job, first, midnight + 10h, midnight + 10h + 6min);
        shoot(job, second, midnight + 11h, midnight + 11h + 6min);
    }
    SECTION("time zones that were never set on one body, with clocks that agree") {
        shoot(job, first, midnight + 9h, midnight + 17h, 3min, 120min);
        shoot(job, second, midnight + 9h + 2min, midnight + 17h + 10min, 4min, 540min);
    }
    CHECK(clocks_of(job).empty());
}

TEST_CASE("bodies that worked side by side without a pause are told by their two ends") {
    SeededJob job;
    shoot(job, first, midnight + 10h, midnight + 18h);
    shoot(job, second, midnight + 11h + 2min, midnight + 19h + 1min, 4min);
    REQUIRE(clocks_of(job).size() == 1);
    CHECK_THAT(clocks_of(job)[0].detail, Catch::Contains("1 hour"));
}

TEST_CASE("time zones that the cameras wrote down explain a shift") {
    SeededJob job;
    shoot(job, first, midnight + 10h, midnight + 14h, 3min, 120min);
    shoot(job, second, midnight + 3h, midnight + 7h + 20min, 5min, -300min);
    const auto findings = clocks_of(job);
    REQUIRE(findings.size() == 1);
    CHECK_THAT(findings[0].detail, Catch::Contains("7 hours"));
}

TEST_CASE("of several bodies only the odd one is named") {
    SeededJob job = shifted(-24h);
    const Camera third{"Quillon", "QX-2", "3", "QX3_", 1};
    const Camera fourth{"Vesper", "V7", "4", "VES4", 1};
    shoot(job, third, midnight + 10h, midnight + 17h + 30min);
    shoot(job, fourth, midnight + 10h + 5min, midnight + 17h + 40min);
    const auto findings = clocks_of(job);
    REQUIRE(findings.size() == 1);
    CHECK(findings[0].path == "originals/VESP0431.DNG");
}

TEST_CASE("a date that the capture times contradict is found once, for the whole job") {
    SeededJob job = test::clean_job();
    job.question.date = 2025y / 9 / 7;
    const auto accounting = job.account();
    REQUIRE(accounting.findings.size() == 1);
    CHECK(accounting.findings[0].kind == FindingKind::date_mismatch);
    CHECK(accounting.findings[0].path.empty());
    CHECK(accounting.findings[0].detail ==
          "no frame was shot on 2025-09-07: by the cameras' clocks they were shot on 2025-09-06");
}

TEST_CASE("a night belongs to the day before, and one day of several is enough") {
    SeededJob job;
    job.question.date = 2025y / 9 / 5;
    SECTION("a party after midnight") {
        shoot(job, first, midnight + 1h, midnight + 4h);
    }
    SECTION("three days") {
        shoot(job, first, midnight - 34h, midnight - 30h, 30min);
        shoot(job, first, midnight - 14h, midnight - 10h, 30min);
        shoot(job, first, midnight + 10h, midnight + 14h, 30min);
    }
    SECTION("no times at all") {
        shoot(job, first, midnight + 10h, midnight + 11h);
        for (job::Observed& one : job.observed)
            one.picture.captured.reset();
    }
    const auto accounting = job.account();
    CHECK(std::ranges::none_of(accounting.findings, [](const Finding& finding) {
        return finding.kind == FindingKind::date_mismatch;
    }));
}

#include "glassine/job/deliverables.h"

#include "seeded_job.h"

#include <catch2/catch.hpp>

using namespace glassine;
using job::Section;
using test::SeededJob;

namespace {

/// Exactly one finding, of this kind, with this path; gives back its detail.
std::string only_finding(const std::vector<Finding>& findings, FindingKind kind,
                         const std::string& path, Severity severity) {
    for (const Finding& finding : findings)
        UNSCOPED_INFO(word(finding.kind) << " " << finding.path << ": " << finding.detail);
    REQUIRE(findings.size() == 1);
    CHECK(word(findings[0].kind) == word(kind));
    CHECK(findings[0].path == path);
    CHECK(word(findings[0].severity) == word(severity));
    return findings[0].detail;
}

bool holds(const std::string& text, std::string_view part) {
    INFO(text);
    return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("what delivered pictures lack is found") {
    SeededJob job = test::clean_job();
    photo::Picture& web = job.at("web/okafor-gala-011.jpg").picture;
    photo::Picture& print = job.at("print/okafor-gala-011.jpg").picture;
    const auto web_finding = [&](FindingKind kind) {
        return only_finding(job.account().findings, kind, "web/okafor-gala-011.jpg",
                            Severity::warning);
    };
    const auto print_finding = [&](FindingKind kind) {
        return only_finding(job.account().findings, kind, "print/okafor-gala-011.jpg",
                            Severity::warning);
    };
    SECTION("place coordinates on the web") {
        web.has_location = true;
        print.has_location = true;
        web_finding(FindingKind::location_in_web_image);
    }
    SECTION("Adobe RGB on the web") {
        web.color_space = photo::ColorSpace::adobe_rgb;
        print.color_space = photo::ColorSpace::adobe_rgb;
        web_finding(FindingKind::color_space);
    }
    SECTION("no word about the colour space on the web") {
        web.color_space = photo::ColorSpace::unknown;
        web_finding(FindingKind::color_space);
    }
    SECTION("no rights notice on the web") {
        web.has_rights = false;
        print.has_rights = false;
        web_finding(FindingKind::rights_missing);
    }
    SECTION("too large for the web") {
        web.width = 2000;
        web.height = 3001;
        CHECK(holds(web_finding(FindingKind::web_too_large), "2000 × 3001"));
    }
    SECTION("as large as the limit") {
        web.width = 3000;
    }
    SECTION("no limit for the web") {
        job.question.limits.web_long_edge = 0;
        web.width = 60000;
    }
    SECTION("no profile for print") {
        print.has_profile = false;
        print_finding(FindingKind::color_space);
    }
    SECTION("too small for print") {
        print.width = 1799;
        print.height = 1300;
        CHECK(holds(print_finding(FindingKind::print_too_small), "1200 × 1800"));
    }
    SECTION("just large enough for print, turned") {
        print.width = 1200;
        print.height = 1800;
    }
    if (job.account().findings.empty()) SUCCEED();
}

// The print pixel table of common practice: 300, 240, 200 and 150 pixels an inch.
TEST_CASE("print sizes ask for the pixels of the print table") {
    struct Row {
        double width, height;
        unsigned ppi;
        std::uint32_t shorter, longer;
    };
    const Row row = GENERATE(values<Row>({{4, 6, 300, 1200, 1800},
                                          {5, 7, 300, 1500, 2100},
                                          {8, 10, 300, 2400, 3000},
                                          {8, 10, 240, 1920, 2400},
                                          {11, 14, 300, 3300, 4200},
                                          {11, 14, 240, 2640, 3360},
                                          {16, 20, 200, 3200, 4000},
                                          {20, 30, 150, 3000, 4500}}));
    SeededJob job = test::clean_job();
    job.question.limits.print_width = row.width;
    job.question.limits.print_height = row.height;
    job.question.limits.print_ppi = row.ppi;
    for (std::size_t i = 0; i < job.files.size(); ++i) {
        if (job.files[i].section != Section::print) continue;
        job.observed[i].picture.width = row.longer;
        job.observed[i].picture.height = row.shorter;
    }
    CHECK(job.account().findings.empty());
    job.at("print/okafor-gala-020.jpg").picture.height -= 1;
    only_finding(job.account().findings, FindingKind::print_too_small, "print/okafor-gala-020.jpg",
                 Severity::warning);
}

#include "glassine/report/audit_page.h"

#include "report/html.h"
#include "report/next_steps.h"
#include "report/plot.h"
#include "support/program.h"
#include "support/temp_folder.h"

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::report;

namespace {

std::size_t count(std::string_view text, std::string_view part) {
    std::size_t n = 0;
    for (std::size_t at = text.find(part); at != std::string_view::npos;
         at = text.find(part, at + 1))
        ++n;
    return n;
}

bool contains(std::string_view text, std::string_view part) {
    return text.find(part) != std::string_view::npos;
}

Timestamp day(const char* date) {
    return *parse_rfc3339(std::string(date) + "T10:00:00Z");
}

struct Audited {
    AuditResult result;
    AuditNotes notes;
    std::string page() const { return audit_page(result, notes); }
};

/// Two bags on one drive: one whole, one with a damaged picture.
Audited two_bags() {
    Audited a;
    a.result.command = "audit";
    a.result.started = day("2026-11-25");
    a.result.finished = day("2026-11-25");
    a.result.ending = Ending::attention;
    AuditedBag whole;
    whole.report.path = "/mnt/shelf-a/one";
    whole.report.name = "one";
    whole.report.complete = true;
    whole.report.valid = true;
    whole.report.files = 12;
    whole.report.bytes = 34'000'000;
    AuditedBag damaged = whole;
    damaged.report.path = "/mnt/shelf-a/two";
    damaged.report.name = "two";
    damaged.report.valid = false;
    damaged.outlook = "healable from its own recovery data: 2 blocks";
    Finding altered = found(FindingKind::payload_altered, "data/web/a.jpg", "its digest is wrong");
    altered.offset = 4096;
    altered.length = 512;
    damaged.report.findings = {altered};
    a.result.bags = {whole, damaged};
    a.notes.drives = {{"/mnt/shelf-a", "Shelf A", "Model 9, serial 77", {0, 1}}};
    a.notes.bags.resize(2);
    a.notes.bags[1].pictures = {{"data/web/a.jpg", "jpeg", DamagedPicture::Part{0, 0.25, 1, 0.75},
                                 "the picture is lost from line 25 of 100 on"}};
    return a;
}

}  // namespace

TEST_CASE("an audit's page tells the verdict first, then what to do, then each drive and bag") {
    const std::string page = two_bags().page();
    CHECK(page.starts_with("<!DOCTYPE html>\n<html lang=\"en\">"));
    const std::size_t verdict = page.find("1 of 2 bags needs attention.");
    const std::size_t todo = page.find("What to do next");
    const std::size_t drive = page.find("Shelf A <small>2 bags</small>");
    REQUIRE(verdict != std::string::npos);
    REQUIRE(todo != std::string::npos);
    REQUIRE(drive != std::string::npos);
    CHECK(verdict < todo);
    CHECK(todo < drive);
    CHECK(contains(page, "<code>glassine mend /mnt/shelf-a/two</code>"));
    CHECK(contains(page, "✓ whole"));
    CHECK(contains(page, "✕ damaged"));
    CHECK(contains(page, "bytes 4,096 to 4,607"));
    CHECK(count(page, "<article") == 1);
    // The lost part as it was given, and the picture itself inside the page (RFC 2397; "jpeg" in
    // base64 is anBlZw==, coreutils' base64).
    CHECK(contains(page, "data:image/jpeg;base64,anBlZw=="));
    CHECK(contains(page, "y=\"25.00\" width=\"100.00\" height=\"75.00\""));
}

TEST_CASE("a page fetches nothing and runs nothing") {
    const std::string page = two_bags().page();
    CHECK(contains(page, "default-src 'none'; img-src data:"));
    CHECK_FALSE(contains(page, "<script"));
    CHECK_FALSE(contains(page, "://"));
    CHECK_FALSE(contains(page, "src=\"//"));
    CHECK_FALSE(contains(page, "@import"));
}

TEST_CASE("every ending has its sentence") {
    Audited a = two_bags();
    a.result.ending = Ending::interrupted;
    a.result.bags[1].report.stopped = true;
    CHECK(contains(a.page(), "The audit was stopped after 1 bag;"));
    Audited good = two_bags();
    good.result.bags.pop_back();
    good.notes.bags.pop_back();
    good.notes.drives[0].bags = {0};
    good.result.ending = Ending::good;
    CHECK(contains(good.page(), "The bag is whole: every file is still what was sealed."));
    CHECK(contains(good.page(), "Nothing. Put the drives back"));
    good.result.quick = true;
    good.result.bags[0].report.valid = std::nullopt;
    CHECK(contains(good.page(), "nothing is proven, since nothing was read"));
    CHECK(contains(audit_page({}, {}), "</html>"));
}

TEST_CASE("what a budget left unread is told at the top, with each drive, and accuses nobody") {
    Audited a = two_bags();
    a.result.ending = Ending::good;
    a.result.budget = 5400;
    a.result.left = {"/mnt/shelf-a/two", "/mnt/shelf-a/three"};
    AuditedBag& begun = a.result.bags[1];
    begun = a.result.bags[0];
    begun.report.path = "/mnt/shelf-a/two";
    begun.report.name = "two";
    begun.report.stopped = true;
    begun.report.complete = false;
    begun.report.valid = false;
    a.notes.bags[1] = {{}, {}, {{day("2025-01-01"), true, 0}}};
    a.notes.drives[0].left = a.result.left;
    std::string page = a.page();
    CHECK(contains(page,
                   "<p class=\"verdict\">1 bag is whole. The time was up: 2 bags are left for "
                   "the next audit, which goes on there.</p>"));
    CHECK(contains(page, "Audit again when there is time: 2 bags are left"));
    CHECK(contains(page, "◐ not finished"));
    CHECK_FALSE(contains(page, "✕"));
    CHECK(contains(page, "<li>/mnt/shelf-a/three</li>"));
    // The row of the years has last year's disc, and nothing for what was not read to its end.
    CHECK(count(page, "<circle class=\"good\"") == 1);
    CHECK(count(page, "class=\"bad\" x1") == 0);
    // Damage that was found before the time was up stays damage.
    begun.report.findings = {found(FindingKind::payload_altered, "data/a.jpg", "it differs")};
    a.result.ending = Ending::attention;
    page = a.page();
    CHECK(contains(page,
                   "1 of 2 bags needs attention. 1 file is damaged or lost. The time was up: "
                   "2 bags are left"));
    // A drive of which nothing was read yet is there as well.
    a.notes.drives.push_back({"/mnt/shelf-b", "", "", {}, {"/mnt/shelf-b/four"}});
    CHECK(contains(a.page(), "<li>/mnt/shelf-b/four</li>"));
}

TEST_CASE("hostile names stay text on an audit's page") {
    const std::string evil =
        "\"><script>alert(1)</script><img src=x onerror=alert(1)>'&\x1b[2J\xff";
    Audited a = two_bags();
    a.notes.studio = evil;
    a.notes.person = evil;
    a.notes.drives[0] = {evil, evil, evil, {0, 1}, {evil}};
    a.result.left = {evil};
    for (AuditedBag& bag : a.result.bags) {
        bag.report.name = evil;
        bag.report.path = "/mnt/" + evil;
        bag.report.info = {{"Client-Name", evil}};
        bag.report.findings = {found(FindingKind::payload_missing, evil, evil)};
        bag.outlook = evil;
    }
    a.result.findings = {found(FindingKind::unreadable, evil, evil)};
    a.notes.bags[1].pictures = {{evil, evil, DamagedPicture::Part{}, evil}};
    a.notes.bags[1].earlier = {{day("2025-01-01"), true, 5e7}};
    const std::string page = a.page();
    CHECK_FALSE(contains(page, "<script"));
    CHECK_FALSE(contains(page, "<img src=x"));
    CHECK_FALSE(contains(page, "\x1b"));
    CHECK(text::is_utf8(page));
    CHECK(contains(page, "&lt;script&gt;"));
}

TEST_CASE("a drive's reading is drawn with its earlier audits, and told in words") {
    Audited a = two_bags();
    for (std::uint64_t i = 1; i <= 1000; ++i)
        a.notes.bags[0].rates.push_back({i * 1'000'000, i == 500 ? 4e6 : 120e6});
    for (std::uint64_t i = 1; i <= 10; ++i)
        a.notes.bags[1].rates.push_back({i * 1'000'000, 80e6});
    a.notes.bags[0].earlier = {{day("2024-11-20"), true, 140e6}, {day("2025-11-20"), false, 130e6}};
    const std::string page = a.page();
    CHECK(count(page, "<polyline") == 1);
    CHECK(contains(page, "2025-11-20: 130.0 MB/s"));
    CHECK(contains(page, "Half of it faster than 120.0 MB/s"));
    CHECK(count(page, "class=\"level\"") == 2);
    CHECK(contains(page, "Audits over the years"));
    // One disc for 2024, one cross of two lines for 2025, one disc for today.
    CHECK(count(page, "<circle class=\"good\"") == 2);
    CHECK(count(page, "class=\"bad\" x1") == 2);
    CHECK(count(page, "<svg ") == count(page, "</svg>"));
    // Nothing to draw: no empty axes.
    CHECK(count(two_bags().page(), "<polyline") == 0);
}

TEST_CASE("ticks are round and reach the top") {
    CHECK(ticks(120e6, 4) == std::vector<double>{0, 50e6, 100e6, 150e6});
    CHECK(ticks(7, 5) == std::vector<double>{0, 2, 4, 6, 8});
    CHECK(ticks(0, 4) == std::vector<double>{0});
    for (const double most : {0.3, 1.0, 9.99, 1e13}) {
        CHECK(ticks(most, 4).back() >= most);
        CHECK(ticks(most, 4).size() <= 8);
    }
}

TEST_CASE("what to do fits what was found") {
    const auto steps = [](std::vector<Finding> findings, std::string outlook = {}) {
        AuditedBag bag;
        bag.report.path = "/mnt/a b";
        bag.report.findings = std::move(findings);
        bag.outlook = std::move(outlook);
        std::string all;
        for (const Markup& step : next_steps(bag))
            all += step.html + "\n";
        return all;
    };
    CHECK(steps({}).empty());
    CHECK(steps({found(FindingKind::algorithm_weak, "", "")}).empty());
    CHECK(contains(steps({found(FindingKind::payload_altered, "data/a", "")}, "healable from …"),
                   "glassine mend &#39;/mnt/a b&#39;</code>"));
    CHECK(contains(steps({found(FindingKind::payload_missing, "data/a", "")}), "--from COPY"));
    CHECK(contains(steps({found(FindingKind::unreadable, "data/a", "")}), "another cable"));
    CHECK(contains(steps({found(FindingKind::payload_unlisted, "data/a", "")}), "deletes nothing"));
    CHECK(contains(steps({found(FindingKind::object_exchanged, "data/a", "")}), "without --quick"));
    CHECK(steps({found(FindingKind::object_exchanged, Severity::note, "data/a", "")}).empty());
    CHECK(contains(steps({found(FindingKind::oxum_mismatch, "", "")}), "docs/findings.md"));
}

#include "glassine/report/shelf_pages.h"

#include "glassine/base/text.h"
#include "glassine/report/terminal.h"

#include <chrono>

#include <catch2/catch.hpp>
#include <fmt/format.h>

using namespace glassine;
using namespace glassine::report;

namespace {

bool holds(std::string_view text, std::string_view part) {
    return text.find(part) != std::string_view::npos;
}

Date on(const char* day) {
    return *parse_date(day);
}

Timestamp noon(const char* day) {
    return *parse_rfc3339(std::string(day) + "T12:00:00Z");
}

shelf::VolumeFacts volume(std::string id, std::string label, std::string place) {
    shelf::VolumeFacts facts;
    facts.identity.id = std::move(id);
    facts.identity.label = std::move(label);
    facts.identity.place = std::move(place);
    facts.identity.in_service = on("2024-03-01");
    return facts;
}

shelf::CopyFacts copy_on(std::string volume, shelf::CopyState state, const char* proven = nullptr) {
    shelf::CopyFacts copy;
    copy.volume = std::move(volume);
    copy.seal = std::string(128, 'a');
    copy.state = state;
    if (proven != nullptr) copy.proven = noon(proven);
    return copy;
}

/// Judges the facts as the journey does.
ShelfOverview judged(shelf::Facts facts) {
    ShelfOverview out;
    out.today = on("2026-11-25");
    out.facts = std::move(facts);
    for (const shelf::BagFacts& bag : out.facts.bags)
        out.standings.push_back(shelf::standing_of(out.facts, bag, out.policy, out.today));
    out.due = shelf::what_is_due(out.facts, out.policy, out.today);
    return out;
}

shelf::BagFacts bag_of(std::string name, const char* shot, std::vector<shelf::CopyFacts> copies) {
    shelf::BagFacts bag;
    bag.name = std::move(name);
    bag.shoot_date = on(shot);
    bag.payload_files = 12;
    bag.copies = std::move(copies);
    return bag;
}

ShelfOverview small_shelf() {
    using enum shelf::CopyState;
    shelf::Facts facts;
    facts.volumes = {volume("v1", "SHELF-07", "cupboard B"), volume("v2", "SHELF-08", "bank")};
    facts.bags = {
        bag_of("2024-05-01_holt_gala", "2024-05-01",
               {copy_on("v1", whole, "2026-06-01"), copy_on("v2", damaged, "2025-01-01")}),
        bag_of("2025-06-14_okoro_regatta", "2025-06-14",
               {copy_on("v1", whole, "2024-11-24"), copy_on("v2", unproven)})};
    facts.bags[0].clients = {"Maren Holt"};
    facts.bags[1].clients = {"Søren Okoro"};
    return judged(facts);
}

}  // namespace

TEST_CASE("the shelf's page tells each job's copies, their proof and what is due") {
    const std::string page = overview_page(small_shelf());
    CHECK(page.starts_with("<!DOCTYPE html>\n<html lang=\"en\">"));
    CHECK(holds(page, "2 jobs on 2 volumes; "));
    // Proven within a year, longer ago, never, and damaged: by sign and word, not by colour alone.
    CHECK(holds(page, "● SHELF-07</span> 2026-06-01"));
    CHECK(holds(page, "◐ SHELF-07</span> 2024-11-24"));
    CHECK(holds(page, "○ SHELF-08</span> never proven"));
    CHECK(holds(page, "✕ SHELF-08</span> damaged"));
    CHECK(holds(page, "1 of 3 proven"));
    CHECK(holds(page, "Damaged copies"));
    CHECK(holds(page, "glassine mend"));
    // The newest year first.
    CHECK(page.find("id=\"year-2025\"") < page.find("id=\"year-2024\""));
    // Found by what is shown, and by plain letters.
    CHECK(holds(page, "data-words=\"2025 06 14 okoro regatta soren okoro\""));
    CHECK(holds(page, "data-state=\"due short bad\" data-drives=\"1 2\""));
    CHECK(holds(page, "data-state=\"due short old\" data-drives=\"1 2\""));
}

TEST_CASE("the shelf's page runs its own script and nothing else, and fetches nothing") {
    const std::string page = overview_page(small_shelf());
    CHECK(holds(page,
                "default-src 'none'; img-src data:; style-src 'unsafe-inline'; "
                "script-src 'sha256-"));
    CHECK(page.find("<script>") == page.rfind("<script"));
    CHECK_FALSE(holds(page, "://"));
    // Without the script nothing is hidden but the form that needs it.
    CHECK(page.find(" hidden") == page.rfind(" hidden"));
    CHECK(holds(page, "<form id=\"filter\" hidden"));
    CHECK(holds(overview_page(judged({})), "None yet"));
}

TEST_CASE("a shelf of 500 jobs is a page of less than 3 MB") {
    shelf::Facts facts;
    for (int i = 0; i < 24; ++i)
        facts.volumes.push_back(volume(fmt::format("v{}", i), fmt::format("SHELF-{:02}", i),
                                       "the cupboard in the corridor"));
    for (int i = 0; i < 500; ++i) {
        const std::string day =
            fmt::format("{}-{:02}-{:02}", 2017 + i / 50, i % 12 + 1, i % 28 + 1);
        facts.bags.push_back(bag_of(
            day + "_a-long-name-of-clients-and-more_what-it-was-in-words", day.c_str(),
            {copy_on(fmt::format("v{}", i % 24), shelf::CopyState::whole, "2026-02-01"),
             copy_on(fmt::format("v{}", (i + 1) % 24), shelf::CopyState::whole, "2024-02-01"),
             copy_on(fmt::format("v{}", (i + 2) % 24), shelf::CopyState::unproven)}));
        facts.bags.back().clients = {"Clementine Featherstonehaugh-Lindqvist", "Maren Holt"};
    }
    const std::string page = overview_page(judged(facts));
    CHECK(page.size() < 3'000'000);
    CHECK(holds(page, "500 jobs on 24 volumes"));
}

TEST_CASE("hostile names stay text on the shelf's page and on labels") {
    const std::string evil =
        "</style><script>alert(1)</script>\"'&=cmd|' /C calc'!A0\n\x1b[2J\u202e\xff";
    ShelfOverview shelf = small_shelf();
    for (shelf::VolumeFacts& v : shelf.facts.volumes) {
        v.identity.label = v.identity.place = v.identity.model = v.identity.serial = evil;
        v.identity.id = evil;
    }
    for (shelf::BagFacts& bag : shelf.facts.bags) {
        bag.name = bag.description = bag.number = evil;
        bag.clients = {evil, evil};
        for (shelf::CopyFacts& copy : bag.copies)
            copy.volume = evil;
    }
    for (shelf::DueItem& item : shelf.due) {
        item.what = item.command = evil;
        item.bags = {evil};
    }
    VolumeLabel label;
    label.volume = shelf.facts.volumes[0].identity;
    label.jobs = {{evil, evil, shelf::CopyState::damaged}};
    const std::string overview = overview_page(shelf);
    CHECK(overview.find("<script>") == overview.rfind("<script"));
    for (const std::string& page :
         {overview, label_svg(label, shelf.today), label_sheet({label}, shelf.today)}) {
        CHECK_FALSE(holds(page, "<script>alert"));
        CHECK_FALSE(holds(page, "\x1b"));
        CHECK_FALSE(holds(page, "\u202e"));
        CHECK(text::is_utf8(page));
        CHECK(holds(page, "&lt;script&gt;"));
    }
    ShelfLabelResult result;
    result.labels = {label};
    result.html = result.svg = evil;
    const std::string words = to_text(result, {});
    CHECK_FALSE(holds(words, "\x1b"));
    CHECK_FALSE(holds(words, "\u202e"));
    CHECK(text::is_utf8(to_json(result)));
}

TEST_CASE("a label tells when its volume is to be read again") {
    VolumeLabel label;
    label.volume.id = "0d9c6a52-6f0e-4c5e-9d5f-2f3a0a7f6b11";
    label.volume.label = "SHELF-07";
    label.volume.in_service = on("2024-03-01");
    const Date today = on("2026-11-25");
    CHECK(holds(label_svg(label, today), "no job stands on it"));
    CHECK_FALSE(holds(label_svg(label, today), "udit"));
    label.next_audit = on("2027-02-01");
    CHECK(holds(label_svg(label, today), "Next audit 2027-02-01"));
    label.next_audit = today;
    CHECK(holds(label_svg(label, today), "Audit due since 2026-11-25"));
    label.retired = on("2026-01-01");
    CHECK(holds(label_svg(label, today), "Out of service since 2026-01-01"));
    for (int i = 0; i < 12; ++i)
        label.jobs.push_back({fmt::format("bag-{:02}", i), std::string(128, 'b'), {}});
    const std::string svg = label_svg(label, today);
    CHECK(holds(svg, "bag-08"));
    CHECK_FALSE(holds(svg, "bag-09"));
    CHECK(holds(svg, "and 3 more"));
    CHECK(holds(svg, ">bbbbbbbbbbbb<"));
    CHECK(svg.starts_with("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns="));
}

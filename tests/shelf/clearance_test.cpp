#include "glassine/shelf/clearance.h"

#include "shelf/shelf_values.h"

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::shelf;
using namespace glassine::test;

namespace {

/// Contents and copies as a test lays them down.
class Known : public Holdings {
  public:
    std::map<std::string, std::vector<Held>> held;
    std::vector<Held> find(const digest::Value& content) override {
        const auto known = held.find(content.hex());
        return known == held.end() ? std::vector<Held>{} : known->second;
    }
    void add(const char* text, std::vector<HeldCopy> copies, bool by_proxy = false) {
        held[content(text).hex()].push_back({"bag: file", "bag", by_proxy, std::move(copies)});
    }
};

HeldCopy copy(const char* volume, const char* proven, bool whole = true, const char* place = "",
              const char* purchase = "") {
    HeldCopy copy{volume, volume, place, purchase, whole, {}};
    if (*proven) copy.proven = at(proven);
    return copy;
}

MediumFile file(const char* text) {
    return {std::string("DCIM/") + text + ".NEF", 100, {content(text)}};
}

struct Asked {
    Known known;
    std::vector<MediumFile> files;
    std::vector<Finding> not_looked_at;
    ClearanceQuestion question;

    Clearance judge() {
        question.files = files;
        question.not_looked_at = not_looked_at;
        Holdings* const holdings[] = {&known};
        return judge_clearance(question, holdings);
    }
    Asked() {
        question.copies = 2;
        question.fresh = {12, 0};
        question.today = day("2026-03-01");
        question.own_volume = "card";
    }
};

std::vector<FindingKind> kinds(const Clearance& clearance) {
    std::vector<FindingKind> result;
    for (const Finding& finding : clearance.findings)
        result.push_back(finding.kind);
    return result;
}

}  // namespace

TEST_CASE("a card is clear when every file is held often enough") {
    Asked asked;
    asked.files = {file("one"), file("two")};
    asked.known.add("one", {copy("a", "2025-09-01"), copy("b", "2025-09-01")});
    asked.known.add("two", {copy("a", "2025-09-01"), copy("b", "2025-09-01"), copy("c", "")});
    const Clearance clearance = asked.judge();
    CHECK(clearance.clear);
    CHECK(clearance.files == 2);
    CHECK(clearance.held == 2);
    CHECK(clearance.bags == std::map<std::string, std::uint64_t>{{"bag", 2}});
    CHECK(clearance.findings.empty());
}

TEST_CASE("what is held nowhere, too seldom or too long ago is listed by name") {
    Asked asked;
    asked.files = {file("nowhere"), file("once"), file("stale"), file("held")};
    asked.known.add("once", {copy("a", "2025-09-01")});
    asked.known.add("stale", {copy("a", "2025-09-01"), copy("b", "2024-09-01")});
    asked.known.add("held", {copy("a", "2025-09-01"), copy("b", "2025-09-01")});
    const Clearance clearance = asked.judge();
    CHECK_FALSE(clearance.clear);
    CHECK(clearance.held == 1);
    CHECK(kinds(clearance) == std::vector{FindingKind::not_held, FindingKind::held_too_seldom,
                                          FindingKind::copy_stale});
    CHECK(clearance.findings[0].path == "DCIM/nowhere.NEF");
    CHECK(clearance.findings[1].detail == "held in 1 of 2 copies: a");
    CHECK(clearance.findings[2].detail ==
          "1 of 2 copies were proven recently enough; audit b (last proven 2024-09-01)");
}

TEST_CASE("what does not count as a copy") {
    Asked asked;
    asked.files = {file("x")};
    SECTION("a copy on the medium itself") {
        asked.known.add("x", {copy("a", "2025-09-01"), copy("card", "2025-09-01")});
        CHECK(kinds(asked.judge()) == std::vector{FindingKind::held_too_seldom});
    }
    SECTION("a second copy on one volume, from another bag") {
        asked.known.add("x", {copy("a", "2025-09-01")});
        asked.known.add("x", {copy("a", "2025-10-01")});
        CHECK(kinds(asked.judge()) == std::vector{FindingKind::held_too_seldom});
    }
    SECTION("a damaged copy, however lately it was proven before") {
        asked.known.add("x", {copy("a", "2025-09-01"), copy("b", "2026-02-28", false)});
        CHECK(kinds(asked.judge()) == std::vector{FindingKind::held_too_seldom});
    }
    SECTION("a copy never proven") {
        asked.known.add("x", {copy("a", "2025-09-01"), copy("b", "")});
        CHECK(kinds(asked.judge()) == std::vector{FindingKind::copy_stale});
    }
    SECTION("a copy proven a day too long ago") {
        asked.known.add("x", {copy("a", "2025-09-01"), copy("b", "2025-03-01")});
        CHECK(asked.judge().clear);
        asked.question.today = day("2026-03-02");
        CHECK(kinds(asked.judge()) == std::vector{FindingKind::copy_stale});
    }
}

TEST_CASE("copies of several bags and folders add up by volume") {
    Asked asked;
    asked.files = {file("x")};
    asked.known.add("x", {copy("a", "2025-09-01")});
    asked.known.add("x", {copy("b", "2025-09-01")});
    CHECK(asked.judge().clear);
}

TEST_CASE("a fresh copy outweighs a stale one on the same volume") {
    Asked asked;
    asked.question.copies = 1;
    asked.files = {file("x")};
    asked.known.add("x", {copy("a", "2025-09-01")});
    asked.known.add("x", {copy("a", "2020-09-01")});
    CHECK(asked.judge().clear);
}

TEST_CASE("a rejected raw may go when its proxy is held as often") {
    Asked asked;
    asked.files = {file("rejected")};
    asked.known.add("rejected", {copy("a", "2025-09-01"), copy("b", "2025-09-01")}, true);
    const Clearance clearance = asked.judge();
    CHECK(clearance.clear);
    REQUIRE(clearance.weaknesses.size() == 1);
    CHECK(clearance.weaknesses[0] == "1 file was rejected: a proxy is held, not the raw itself");
    asked.question.copies = 3;
    CHECK_FALSE(asked.judge().clear);
}

TEST_CASE("copies in one place or of one purchase count, and it is said") {
    Asked asked;
    asked.files = {file("x"), file("y")};
    for (const char* text : {"x", "y"}) {
        asked.known.add(text, {copy("a", "2025-09-01", true, "cupboard B", "spring 2025"),
                               copy("b", "2025-09-01", true, "cupboard B", "spring 2025")});
    }
    const Clearance clearance = asked.judge();
    CHECK(clearance.clear);
    CHECK(clearance.weaknesses ==
          std::vector<std::string>{"all copies of 2 files stand in one place: cupboard B",
                                   "all copies of 2 files are on drives of one purchase: "
                                   "spring 2025"});
}

TEST_CASE("what could not be looked at is never cleared") {
    Asked asked;
    asked.files = {file("x")};
    asked.known.add("x", {copy("a", "2025-09-01"), copy("b", "2025-09-01")});
    asked.not_looked_at = {found(FindingKind::unreadable, "DCIM/y.NEF", "read error")};
    CHECK_FALSE(asked.judge().clear);
    asked.not_looked_at = {found(FindingKind::system_junk, Severity::note, "x", "left out")};
    CHECK(asked.judge().clear);
}

TEST_CASE("a medium without a file is not clear: it may not be mounted") {
    Asked asked;
    const Clearance clearance = asked.judge();
    CHECK_FALSE(clearance.clear);
    CHECK(kinds(clearance) == std::vector{FindingKind::not_held});
}

TEST_CASE("an asking for no copies asks for one") {
    Asked asked;
    asked.question.copies = 0;
    asked.files = {file("x")};
    CHECK_FALSE(asked.judge().clear);
}

TEST_CASE("plain folders hold what was hashed in them, each medium once") {
    FolderHoldings folders;
    const std::size_t one = folders.add_folder(copy("disk-1", "2026-03-01"), "/transfer/one");
    const std::size_t two = folders.add_folder(copy("disk-2", "2026-03-01"), "/transfer/two");
    const std::size_t more = folders.add_folder(copy("disk-1", "2026-03-01"), "/transfer/more");
    folders.add_file(one, content("x"));
    folders.add_file(more, content("x"));
    folders.add_file(one, content("y"));
    folders.add_file(two, content("y"));
    const std::vector<MediumFile> files{file("x"), file("y")};
    ClearanceQuestion question{files, {}, "card", 2, {12, 0}, day("2026-03-01")};
    Holdings* const holdings[] = {&folders};
    const Clearance clearance = judge_clearance(question, holdings);
    CHECK(clearance.held == 1);
    REQUIRE(clearance.findings.size() == 1);
    CHECK(clearance.findings[0].path == "DCIM/x.NEF");
}

TEST_CASE("the list's digest is that of a checksum file") {
    Asked asked;
    asked.files = {file("b"), file("a")};
    const Clearance clearance = asked.judge();
    const std::string list =
        content("a").hex() + "  DCIM/a.NEF\n" + content("b").hex() + "  DCIM/b.NEF\n";
    CHECK(clearance.list == digest::digest_of(digest::Algorithm::sha512, list));
}

TEST_CASE("only someone named may sign, and only what is clear") {
    Asked asked;
    asked.files = {file("x")};
    asked.known.add("x", {copy("a", "2025-09-01"), copy("b", "2025-09-01")});
    const Clearance clear = asked.judge();
    Policy policy;
    const auto sign = [&](const Clearance& what, const std::string& who) {
        return written_clearance(what, policy, who, "/media/card", at("2026-03-01"));
    };
    CHECK_FALSE(sign(clear, "Ines Marrow"));
    CHECK_FALSE(sign(clear, ""));
    policy.clears_media = {"Ines Marrow"};
    CHECK_FALSE(sign(clear, "Tom Vale"));
    const auto event = sign(clear, "Ines Marrow");
    REQUIRE(event);
    CHECK(event->figure(figure::list_digest) == clear.list.hex());
    CHECK(event->detail.find("signed by Ines Marrow on 2026-03-01: 1 file, list sha512 ") !=
          std::string::npos);
    // In an open log it is one line.
    CHECK(parse_event(to_json_line(*event)) == *event);

    asked.known.held.clear();
    CHECK_FALSE(sign(asked.judge(), "Ines Marrow"));
}

#include "glassine/shelf/audit_plan.h"

#include "shelf/shelf_values.h"

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::shelf;
using namespace glassine::test;

namespace {

CopyFacts copy(const char* volume, const char* path, const char* proven,
               CopyState state = CopyState::whole) {
    CopyFacts copy;
    copy.volume = volume;
    copy.path = path;
    copy.state = state;
    if (*proven) copy.proven = at(proven);
    return copy;
}

BagFacts bag(const char* name, std::vector<CopyFacts> copies) {
    BagFacts bag;
    bag.name = name;
    bag.copies = std::move(copies);
    return bag;
}

Facts on_two_drives() {
    Facts facts;
    facts.volumes = {{test::volume("a", VolumeKind::drive), "/a", {}, {}, {}, {}},
                     {test::volume("b", VolumeKind::drive), "/b", {}, {}, {}, {}}};
    return facts;
}

std::vector<std::string> paths(const std::vector<PlannedAudit>& plan) {
    std::vector<std::string> result;
    for (const PlannedAudit& audit : plan)
        result.push_back(audit.path);
    return result;
}

}  // namespace

TEST_CASE("the longest unproven bag is read first, one never proven before all") {
    Facts facts = on_two_drives();
    facts.bags = {bag("1", {copy("a", "p1", "2025-03-01")}),
                  bag("2", {copy("a", "p2", "2024-03-01"), copy("b", "p2", "")}),
                  bag("3", {copy("a", "p3", "", CopyState::unproven)}),
                  bag("4", {copy("a", "p4", "2024-03-01")}),
                  bag("5", {copy("a", "p5", "2020-01-01", CopyState::gone)}),
                  bag("6", {copy("a", "p6", "2020-01-01", CopyState::missing)})};
    CHECK(paths(plan_audit(facts, "a")) == std::vector<std::string>{"p3", "p2", "p4", "p1"});
    CHECK(plan_audit(facts, "b").size() == 1);
    CHECK(plan_audit(facts, "c").empty());
}

TEST_CASE("one error raises the rest of its medium and the job's other copies") {
    Facts facts = on_two_drives();
    CopyFacts damaged = copy("a", "p1", "2025-03-01", CopyState::damaged);
    damaged.last_error = at("2026-03-01");
    facts.volumes[0].first_error = facts.volumes[0].last_error = damaged.last_error;
    facts.bags = {bag("1", {damaged, copy("b", "p1", "2025-06-01")}),
                  bag("2", {copy("a", "p2", "2025-12-01"), copy("b", "p2", "2024-01-01")}),
                  bag("3", {copy("a", "p3", "2026-02-28T18:00:00Z")}),
                  bag("4", {copy("a", "p4", "2026-03-05")})};
    const auto risk = [&](std::size_t bag, std::size_t copy) {
        return risk_of(facts, facts.bags[bag], facts.bags[bag].copies[copy]);
    };
    CHECK(risk(0, 0) == Risk::none);  // it is damaged, which is said elsewhere
    CHECK(risk(0, 1) == Risk::job);
    CHECK(risk(1, 0) == Risk::medium);
    CHECK(risk(1, 1) == Risk::none);
    CHECK(risk(2, 0) == Risk::none);  // read in the same audit, the evening before
    CHECK(risk(3, 0) == Risk::none);
    CHECK(paths(plan_audit(facts, "a")) == std::vector<std::string>{"p2", "p1", "p3", "p4"});
    CHECK(paths(plan_audit(facts, "b")) == std::vector<std::string>{"p1", "p2"});
}

TEST_CASE("an audit that is stopped after each bag reaches all of them in turn") {
    Facts facts = on_two_drives();
    for (int i = 0; i < 7; ++i) {
        const std::string name = fmt::format("p{}", i);
        facts.bags.push_back(bag(name.c_str(), {copy("a", name.c_str(), "2024-03-01")}));
    }
    std::vector<std::string> order;
    for (int round = 0; round < 7; ++round) {
        const std::string first = plan_audit(facts, "a").front().bag;
        order.push_back(first);
        for (BagFacts& bag : facts.bags) {
            if (bag.name == first)
                bag.copies[0].proven = Timestamp{at("2025-01-01").nanoseconds + round};
        }
    }
    CHECK(order == std::vector<std::string>{"p0", "p1", "p2", "p3", "p4", "p5", "p6"});
}

TEST_CASE("a drive is compared with its own earlier audits, bag by bag") {
    const std::vector<RatePoint> earlier{
        {"outer", at("2023-01-01"), 10'000'000'000, 50},  // 200 MB/s
        {"outer", at("2024-01-01"), 10'000'000'000, 50},
        {"outer", at("2024-06-01"), 10'000'000'000, 500},  // once, while something else ran
        {"inner", at("2024-01-01"), 10'000'000'000, 100},  // 100 MB/s
    };
    const auto compare = [&](std::vector<RatePoint> now) { return compare_rates(earlier, now); };

    const auto same = compare({{"inner", at("2025-01-01"), 10'000'000'000, 105}});
    REQUIRE(same);
    CHECK_FALSE(same->slower);
    CHECK(same->usual == Approx(100e6));
    CHECK_FALSE(slow_volume(*same, "SHELF-01"));

    const auto slow = compare({{"outer", at("2025-01-01"), 10'000'000'000, 100},
                               {"inner", at("2025-01-01"), 10'000'000'000, 200}});
    REQUIRE(slow);
    CHECK(slow->slower);
    CHECK(slow->now == Approx(20e9 / 300));
    CHECK(slow->usual == Approx(20e9 / 150));
    const auto finding = slow_volume(*slow, "SHELF-01");
    REQUIRE(finding);
    CHECK(finding->kind == FindingKind::slow_read);
    CHECK(finding->detail.find("67 MB/s, in its earlier audits at 133 MB/s") != std::string::npos);

    const auto stranger = compare({{"new", at("2025-01-01"), 1'000'000'000, 10}});
    REQUIRE(stranger);
    CHECK(stranger->compared == 4);

    CHECK_FALSE(compare({{"inner", at("2025-01-01"), 1'000'000, 1}}));
    CHECK_FALSE(compare({}));
    const std::vector<RatePoint> now{{"inner", at("2025-01-01"), 10'000'000'000, 105}};
    CHECK_FALSE(compare_rates({}, now));
}

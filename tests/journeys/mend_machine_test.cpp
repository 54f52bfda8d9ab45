#include "recovery/damage_machine.h"
#include "support/effort.h"
#include "support/mending.h"

#include <algorithm>
#include <cstdlib>

#include <fmt/format.h>
#include <fmt/ranges.h>

using namespace glassine;
using namespace glassine::test;
namespace fs = std::filesystem;

/// Whole bags, damaged in every way and mixture, through the journey itself: healed bit for bit, or
/// left as they are with a true list of what is beyond repair.
namespace {

/// Every so manieth bag.
constexpr unsigned rarity = sanitized ? 7 : 1;

Tree damaged(const Tree& sealed, DamageMachine& machine, unsigned times) {
    Tree tree = sealed;
    std::vector<std::string> names;
    for (const auto& [name, content] : tree)
        names.push_back(name);
    machine.damage(tree, names, times);
    return tree;
}

std::set<std::string> beyond(const report::MendResult& result) {
    return {result.beyond_repair.begin(), result.beyond_repair.end()};
}

std::string told(const report::MendResult& result) {
    return fmt::format("healed {}\nbeyond {}\n{}", healed_paths(result), beyond(result),
                       listed(result.findings));
}

/// Every file that was changed is kept as it stood, byte for byte.
void check_quarantine(const report::MendResult& result, const Tree& before, const Tree& after) {
    const Tree kept = tree_of(result.quarantine);
    REQUIRE(result.quarantine.empty() == result.healed.empty());
    for (const std::string& name : differences(before, after)) {
        INFO(name);
        if (before.contains(name)) REQUIRE(kept.at(name + ".damaged") == before.at(name));
        REQUIRE(kept.at("healing.txt").find(name) != std::string::npos);
    }
}

/// What is listed is what is wrong. With the tag manifest damaged and the tag files' recovery data
/// lost as well, nothing is left that knows of a tag file whose line is destroyed.
void check_beyond(const std::set<std::string>& listed, const std::set<std::string>& wrong) {
    if (listed == wrong) return;
    // A digit changed in the line of a tag file that is beyond repair itself: nothing tells.
    std::set<std::string> with_manifest = listed;
    with_manifest.insert("tagmanifest-sha512.txt");
    if (with_manifest == wrong) return;
    REQUIRE(listed.contains("tagmanifest-sha512.txt"));
    REQUIRE(listed.contains("recovery/tags-0001.recovery"));
    for (const std::string& name : wrong) {
        INFO(name);
        REQUIRE((listed.contains(name) || !name.starts_with("data/")));
    }
    for (const std::string& name : listed)
        if (name.starts_with("data/")) REQUIRE(wrong.contains(name));
}

/// How many bags; GLASSINE_DAMAGED_BAGS sets another number for a long hunt.
unsigned bags(unsigned usual) {
    const char* given = std::getenv("GLASSINE_DAMAGED_BAGS");
    return given != nullptr ? static_cast<unsigned>(std::atoi(given)) : usual;
}

struct Counts {
    int whole = 0;
    int healed = 0;
    int beyond = 0;
    int foretold_wrongly = 0;
};

/// One bag, and perhaps damaged copies that are to help.
void check_one(const Mending& mending, const Tree& before, const std::vector<std::string>& from,
               Counts& counts) {
    const fs::path bag = mending.put("bag", before);
    const auto beside = mending.beside();
    const auto foretold = mending.mend(from, true);
    REQUIRE(tree_of(bag) == before);
    REQUIRE(mending.beside() == beside);

    const auto result = mending.mend(from);
    const Tree after = tree_of(bag);
    INFO("foretold: " << told(foretold) << "done: " << told(result));
    const auto changed = differences(before, after);
    for (const std::string& name : changed)
        REQUIRE((mending.sealed().contains(name) && after.at(name) == mending.sealed().at(name)));
    REQUIRE(healed_paths(result) == changed);
    check_beyond(beyond(result), differences(mending.sealed(), after));
    REQUIRE((result.ending == report::Ending::good) == (after == mending.sealed()));
    check_quarantine(result, before, after);
    // That a recovery file and its very line in the tag manifest are damaged shows only when the
    // file has been made again.
    const bool same =
        healed_paths(foretold) == healed_paths(result) && beyond(foretold) == beyond(result);
    if (!same) REQUIRE(beyond(result).contains("tagmanifest-sha512.txt"));
    counts.foretold_wrongly += !same;
    counts.whole += after == mending.sealed();
    counts.healed += static_cast<int>(changed.size());
    counts.beyond += static_cast<int>(result.beyond_repair.size());
}

}  // namespace

TEST_CASE(
    "damaged bags are healed bit for bit, or left with a true list of what is beyond repair") {
    const Mending mending({.kept = 2, .rejected = 1, .film_bytes = 300'000}, 20);
    Counts counts;
    for (unsigned seed = 0; seed < bags(300); seed += rarity) {
        INFO("seed " << seed);
        DamageMachine machine(seed);
        mending.clear();
        check_one(
            mending,
            damaged(mending.sealed(), machine, 1 + machine.below(machine.chance(30) ? 16 : 5)), {},
            counts);
    }
    CAPTURE(counts.whole, counts.healed, counts.beyond);
    CHECK(counts.foretold_wrongly <= static_cast<int>(bags(200) / 100));
    CHECK(counts.whole > 100 / static_cast<int>(rarity));
    CHECK(counts.beyond > 100 / static_cast<int>(rarity));
}

TEST_CASE("copies that are all damaged heal each other") {
    const Mending mending({.kept = 2, .rejected = 1, .film_bytes = 300'000}, 5);
    Counts counts;
    for (unsigned seed = 5000; seed < 5000 + bags(100); seed += rarity) {
        INFO("seed " << seed);
        DamageMachine machine(seed);
        mending.clear();
        std::vector<std::string> from;
        for (unsigned i = 0; i < 1 + machine.below(2); ++i) {
            from.push_back("copy-" + std::to_string(i));
            mending.put(from.back(), damaged(mending.sealed(), machine, 1 + machine.below(12)));
        }
        check_one(mending, damaged(mending.sealed(), machine, 1 + machine.below(12)), from, counts);
    }
    CAPTURE(counts.whole, counts.healed, counts.beyond);
    CHECK(counts.foretold_wrongly <= static_cast<int>(bags(200) / 100));
    CHECK(counts.whole > 75 / static_cast<int>(rarity));
}

TEST_CASE("a tag manifest is not made again from a recovery file that has grown") {
    // The damage machine found it (bag 431): the tag manifest had lost the line of a recovery file
    // whose packets were all whole, with something behind them; it was written again with the
    // digest of the damaged file.
    const Mending mending({.kept = 1, .rejected = 1}, 20);
    Counts counts;
    for (const char* name : {"recovery/tags-0001.recovery", "recovery/payload-0001.recovery"}) {
        mending.clear();
        Tree before = mending.sealed();
        before.at(name) += "more";
        std::string& text = before.at("tagmanifest-sha512.txt");
        const std::size_t at = text.find(name);
        const std::size_t begin = text.rfind('\n', at) + 1;
        text.erase(begin, text.find('\n', at) + 1 - begin);
        check_one(mending, before, {}, counts);
    }
    CHECK(counts.whole == 0);
    CHECK(counts.beyond == 4);
}

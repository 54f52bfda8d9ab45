#include "glassine/recovery/rebuilder.h"

#include "glassine/recovery/locator.h"
#include "recovery/damage_machine.h"
#include "recovery/small_bag.h"
#include "support/temp_folder.h"

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::recovery;
using namespace glassine::test;

namespace {

/// A bag of 40 blocks of 256 bytes with 8 repair blocks in one code word, sealed in two copies.
struct TwoCopies {
    MemoryFiles files;
    Contents sealed;
    Contents& bag = files.copies["bag"];
    Contents& other = files.copies["other"];

    TwoCopies() {
        for (int i = 0; i < 4; ++i)
            sealed["data/" + std::to_string(i)] = noise(2500, i);
        const Contents recovery = recovery_for(sealed, small_blocks(256, 2000));
        bag = sealed;
        bag.insert(recovery.begin(), recovery.end());
        other = bag;
    }

    static void zero(Contents& copy, const std::string& name, std::size_t block,
                     std::size_t count = 1) {
        copy[name].replace(256 * block, 256 * count, 256 * count, '\0');
    }

    KeepingReceiver heal(bool with_other, Outlook* outlook = nullptr) {
        RebuildOptions options;
        if (with_other) options.others = {"other"};
        RecoverySet set(files, "bag", options.others);
        Rebuilder rebuilder(files, "bag", set, locate(files, "bag", set), options);
        KeepingReceiver receiver;
        rebuilder.run(receiver);
        if (outlook != nullptr) *outlook = rebuilder.outlook();
        for (const auto& [name, content] : receiver.healed)
            CHECK(content == sealed.at(name));
        return receiver;
    }
};

using Names = std::vector<std::string>;

}  // namespace

TEST_CASE("a lost file comes back from the bag's own recovery data") {
    TwoCopies copies;
    copies.sealed["data/4"] = "small";
    copies.bag = copies.sealed;
    copies.bag.merge(recovery_for(copies.sealed, small_blocks(256, 3000)));
    copies.bag.erase("data/1");
    copies.bag["data/2"].resize(2400);
    Outlook outlook;
    const auto receiver = copies.heal(false, &outlook);
    CHECK(outlook.from_recovery == Names{"data/1", "data/2"});
    CHECK(outlook.damaged_blocks == 11);
    CHECK(outlook.fullest_lost == 11);
    CHECK(outlook.fullest_repair == 13);
    CHECK(describe(outlook) ==
          "11 blocks damaged, 13 repair blocks usable; the fullest code word has lost 11 of the 13 "
          "that it can give back");
    CHECK(receiver.told.at("data/1").blocks_rebuilt == 10);
    REQUIRE(receiver.told.at("data/1").changes.size() == 1);
    CHECK(receiver.told.at("data/1").changes[0].look == Look::lost);
    CHECK(describe(receiver.told.at("data/2").changes.at(0)) ==
          "bytes 2,400 to 2,499 were cut off");
}

TEST_CASE("one block more than the capacity is beyond repair, and is said to be") {
    TwoCopies copies;
    copies.zero(copies.bag, "data/0", 0, 4);
    copies.zero(copies.bag, "data/3", 2, 4);
    CHECK(copies.heal(false).healed.size() == 2);
    copies.zero(copies.bag, "data/1", 5);
    Outlook outlook;
    CHECK(copies.heal(false, &outlook).healed.empty());
    CHECK(outlook.beyond == Names{"data/0", "data/1", "data/3"});
}

TEST_CASE("another copy gives what the recovery data cannot, also when it is damaged itself") {
    TwoCopies copies;
    // Both copies have lost more than their own recovery data can give back, in different places.
    copies.zero(copies.bag, "data/0", 0, 9);
    copies.zero(copies.bag, "data/1", 0, 2);
    copies.zero(copies.other, "data/2", 0, 9);
    copies.zero(copies.other, "data/1", 1, 2);
    Outlook outlook;
    const auto receiver = copies.heal(true, &outlook);
    CHECK(outlook.nothing_beyond());
    CHECK(outlook.from_copies == Names{"data/0"});
    CHECK(receiver.healed.size() == 2);
    CHECK(receiver.told.at("data/0").blocks_from_copies == 3);
    CHECK(receiver.told.at("data/0").blocks_rebuilt == 6);
}

TEST_CASE("a block of another copy counts only with the right check value") {
    TwoCopies copies;
    copies.zero(copies.bag, "data/0", 0, 9);
    copies.zero(copies.other, "data/0", 0, 9);
    Outlook outlook;
    CHECK(copies.heal(true, &outlook).healed.empty());
    CHECK(outlook.beyond == Names{"data/0"});
}

TEST_CASE("recovery files that are lost are read from another copy") {
    TwoCopies copies;
    copies.bag.erase("recovery/payload-0001.recovery");
    copies.zero(copies.bag, "data/0", 0, 3);
    CHECK(copies.heal(false).healed.empty());
    CHECK(copies.heal(true).healed.size() == 1);
    // Each of the two copies has half of the repair blocks.
    auto& own = copies.bag["recovery/payload-0001.recovery"] =
        copies.other["recovery/payload-0001.recovery"];
    own.resize(own.size() / 2);
    auto& others = copies.other["recovery/payload-0001.recovery"];
    others.replace(0, others.size() / 2, others.size() / 2, '\0');
    copies.zero(copies.bag, "data/2", 0, 5);
    copies.other["data/0"].clear();
    copies.other["data/2"].clear();
    CHECK(copies.heal(true).healed.size() == 2);
}

TEST_CASE("damage that comes to light only while rebuilding is taken in") {
    TwoCopies copies;
    copies.zero(copies.bag, "data/0", 0, 3);
    RecoverySet set(copies.files, "bag");
    const auto damages = locate(copies.files, "bag", set);
    copies.zero(copies.bag, "data/0", 5);
    copies.zero(copies.bag, "data/3", 4, 4);
    Rebuilder rebuilder(copies.files, "bag", set, damages);
    KeepingReceiver receiver;
    rebuilder.run(receiver);
    REQUIRE(receiver.healed.size() == 1);
    CHECK(receiver.healed.at("data/0") == copies.sealed.at("data/0"));
    // And if that is too much, the file is given up, not handed on wrong.
    copies.zero(copies.bag, "data/1", 0, 1);
    Rebuilder again(copies.files, "bag", set, damages);
    KeepingReceiver nothing;
    again.run(nothing);
    CHECK(nothing.healed.empty());
    CHECK(nothing.failures.contains("data/0"));
}

TEST_CASE("a file that only grew is cut back") {
    TwoCopies copies;
    copies.bag["data/3"] += "tail";
    const auto receiver = copies.heal(false);
    REQUIRE(receiver.healed.size() == 1);
    CHECK(describe(receiver.told.at("data/3").changes.at(0)) ==
          "bytes 2,500 to 2,503 did not belong to the file");
}

TEST_CASE("a lost empty file is healed") {
    TwoCopies copies;
    copies.sealed["data/none"] = "";
    copies.bag = copies.sealed;
    copies.bag.merge(recovery_for(copies.sealed, small_blocks(256)));
    copies.bag.erase("data/none");
    const auto receiver = copies.heal(false);
    CHECK(receiver.healed == Contents{{"data/none", ""}});
}

TEST_CASE("the stop is obeyed") {
    TwoCopies copies;
    copies.zero(copies.bag, "data/0", 0);
    RecoverySet set(copies.files, "bag");
    std::stop_source stop;
    RebuildOptions options;
    options.stop = stop.get_token();
    Rebuilder rebuilder(copies.files, "bag", set, locate(copies.files, "bag", set), options);
    stop.request_stop();
    KeepingReceiver receiver;
    try {
        rebuilder.run(receiver);
        FAIL("not interrupted");
    } catch (const Error& error) {
        CHECK(error.cause() == Cause::interrupted);
    }
    CHECK(receiver.healed.empty());
}

TEST_CASE("several damaged copies together heal what none could alone") {
    int together = 0, alone = 0;
    for (unsigned seed = 0; seed < 300; ++seed) {
        INFO("seed " << seed);
        DamageMachine machine(seed);
        const Contents sealed = machine.files();
        Contents whole = recovery_for(sealed, machine.options());
        whole.insert(sealed.begin(), sealed.end());
        std::vector<std::string> names;
        for (const auto& [name, content] : whole)
            names.push_back(name);
        MemoryFiles files;
        for (const char* copy : {"bag", "other", "third"}) {
            files.copies[copy] = whole;
            machine.damage(files.copies[copy], names, 1 + machine.below(20));
        }
        const auto proven = [&](std::string_view name) {
            const auto found = files.copies["bag"].find(std::string(name));
            return found != files.copies["bag"].end() &&
                   found->second == sealed.at(std::string(name));
        };
        for (const bool with_others : {false, true}) {
            RebuildOptions options;
            if (with_others) options.others = {"other", "third"};
            RecoverySet set(files, "bag", options.others);
            Rebuilder rebuilder(files, "bag", set, locate(files, "bag", set, {}, proven), options);
            KeepingReceiver receiver;
            rebuilder.run(receiver);
            for (const auto& [name, content] : receiver.healed)
                REQUIRE(content == sealed.at(name));
            (with_others ? together : alone) += static_cast<int>(receiver.healed.size());
        }
    }
    CHECK(together > alone);
}

#include "glassine/recovery/locator.h"

#include "recovery/small_bag.h"
#include "support/temp_folder.h"

#include <random>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::recovery;
using namespace glassine::test;

namespace {

/// A sealed bag in memory, with one file of 10,000 bytes whose blocks are 1024 bytes.
struct Sealed {
    MemoryFiles files;
    Contents& bag = files.copies["bag"];
    std::string& picture;

    Sealed() : picture(bag["data/picture.jpg"]) {
        picture = noise(10000, 1);
        bag["data/other.jpg"] = noise(5000, 2);
        bag["data/empty.txt"] = "";
        bag.merge(recovery_for(bag, small_blocks(1024, 2000)));
    }
    std::vector<FileDamage> damages() {
        RecoverySet set(files, "bag");
        return locate(files, "bag", set);
    }
    FileDamage only_damage() {
        const auto all = damages();
        REQUIRE(all.size() == 1);
        return all[0];
    }
};

using Ranges = std::vector<DamagedRange>;

}  // namespace

TEST_CASE("a whole bag has no damage") {
    CHECK(Sealed().damages().empty());
}

TEST_CASE("a single flipped bit is told exactly") {
    Sealed sealed;
    sealed.picture[4321] = static_cast<char>(sealed.picture[4321] ^ 0x20);
    const auto damage = sealed.only_damage();
    CHECK(damage.ranges == Ranges{{4096, 1024, Look::flipped_bits, 8 * 4321 + 5}});
    CHECK(describe(damage) == "bit 5 of byte 4,321 is flipped");
}

TEST_CASE("zeroed and foreign blocks are told by range") {
    Sealed sealed;
    sealed.picture.replace(2048, 2048, 2048, '\0');
    sealed.picture.replace(8000, 10, "0123456789");
    const auto damage = sealed.only_damage();
    CHECK(damage.ranges == Ranges{{2048, 2048, Look::zeroed, {}}, {7168, 1024, Look::foreign, {}}});
    CHECK(damage.bytes() == 3072);
    CHECK(describe(damage) ==
          "within bytes 2,048 to 4,095: zeros stand there; within bytes 7,168 to 8,191: other "
          "bytes stand there");
}

TEST_CASE("truncated, grown and lost files are told") {
    Sealed sealed;
    const std::string right = sealed.picture;
    sealed.picture.resize(5000);
    auto damage = sealed.only_damage();
    CHECK(damage.found_size == 5000);
    CHECK(damage.ranges == Ranges{{4096, 5904, Look::truncated, {}}});
    CHECK(describe(damage) == "the file has 5,000 bytes and should have 10,000");

    sealed.picture = right + "more";
    damage = sealed.only_damage();
    CHECK(damage.found_size == 10004);
    CHECK(damage.ranges.empty());

    sealed.picture = right;
    sealed.bag.erase("data/other.jpg");
    sealed.bag.erase("data/empty.txt");
    const auto all = sealed.damages();
    REQUIRE(all.size() == 2);
    CHECK(all[0].name == "data/empty.txt");
    CHECK_FALSE(all[0].found_size);
    CHECK(all[1].ranges == Ranges{{0, 5000, Look::lost, {}}});
    CHECK(describe(all[1]) == "the file is lost (5,000 bytes)");
}

TEST_CASE("sectors that the medium does not give are told") {
    Sealed sealed;
    sealed.files.unreadable["bag/data/picture.jpg"] = {1};
    const auto damage = sealed.only_damage();
    CHECK(damage.found_size == 10000);
    CHECK(damage.ranges == Ranges{{4096, 4096, Look::unreadable, {}}});
}

TEST_CASE("the sink finds the same whatever the pieces, and gaps cost whole blocks") {
    Sealed sealed;
    sealed.picture[100] = static_cast<char>(sealed.picture[100] ^ 1);
    RecoverySet set(sealed.files, "bag");
    for (unsigned seed = 0; seed < 40; ++seed) {
        Locator locator(set);
        std::mt19937 random(seed);
        flow::Item item;
        item.name = "data/picture.jpg";
        const auto stream = locator.open(item);
        REQUIRE(stream);
        std::size_t at = 0;
        const auto give = [&](std::size_t to) {
            while (at < to) {
                const std::size_t length = std::min<std::size_t>(to - at, 1 + random() % 3000);
                stream->block(at, bytes_of(sealed.picture).subspan(at, length));
                at += length;
            }
        };
        give(3000);
        stream->gap(3000, 50);
        at = 3050;
        give(3060);
        stream->gap(3060, 2100);
        at = 5160;
        give(10000);
        flow::Outcome outcome;
        outcome.status = flow::Status::gaps;
        stream->finish(outcome);
        const auto all = locator.damages();
        REQUIRE(all.size() == 1);
        CHECK(all[0].ranges ==
              Ranges{{0, 1024, Look::flipped_bits, 800}, {2048, 4096, Look::unreadable, {}}});
        CHECK(all[0].found_size == 10000);
    }
}

TEST_CASE("files that no recovery data covers are not wanted, and cancelled ones not judged") {
    Sealed sealed;
    RecoverySet set(sealed.files, "bag");
    Locator locator(set);
    flow::Item item;
    item.name = "tagmanifest-sha512.txt";
    CHECK(locator.open(item) == nullptr);
    item.name = "data/picture.jpg";
    flow::Outcome outcome;
    outcome.status = flow::Status::cancelled;
    locator.open(item)->finish(outcome);
    CHECK(locator.damages().empty());
    outcome.status = flow::Status::unreadable;
    locator.open(item)->finish(outcome);
    REQUIRE(locator.damages().size() == 1);
    CHECK(locator.damages()[0].ranges == Ranges{{0, 10000, Look::unreadable, {}}});
}

TEST_CASE("differences are told as people would") {
    const auto changes_of = [](std::string was, const std::string& right) {
        std::vector<Change> changes;
        compare(1000, bytes_of(was), bytes_of(right), changes);
        std::string told;
        for (const auto& change : changes)
            told += describe(change) + "\n";
        return told;
    };
    const std::string right = noise(500, 4);
    std::string was = right;
    CHECK(changes_of(was, right) == "");
    was[7] = static_cast<char>(was[7] ^ 0x80);
    CHECK(changes_of(was, right) == "bit 7 of byte 1,007 was flipped\n");
    was[100] = static_cast<char>(was[100] ^ 3);
    CHECK(changes_of(was, right) ==
          "bit 7 of byte 1,007 was flipped\n2 bits in byte 1,100 were flipped\n");
    was = right;
    was.replace(100, 200, 200, '\0');
    CHECK(changes_of(was, right) == "bytes 1,100 to 1,299 were zero\n");
    was = right;
    for (int i = 10; i < 30; ++i)
        was[i] = static_cast<char>(was[i] ^ 0x55);
    CHECK(changes_of(was, right) == "bytes 1,010 to 1,029: 20 bytes differed\n");
}

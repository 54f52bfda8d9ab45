#include "glassine/recovery/layout.h"

#include "recovery/packet.h"
#include "recovery/small_bag.h"

#include <random>
#include <set>

#include <catch2/catch.hpp>
#include <fmt/format.h>

using namespace glassine;
using namespace glassine::recovery;
using namespace glassine::test;

namespace {

std::vector<FileSize> files_of(std::size_t count, std::uint64_t size) {
    std::vector<FileSize> files;
    for (std::size_t i = 0; i < count; ++i)
        files.push_back({fmt::format("data/{:06}", i), size});
    return files;
}

std::uint64_t total(const std::vector<FileSize>& files) {
    std::uint64_t bytes = 0;
    for (const auto& file : files)
        bytes += file.size;
    return bytes;
}

double share(const std::vector<FileSize>& files, const Options& options) {
    std::uint64_t bytes = 0;
    for (const auto& window : plan(Group::payload, files, options, total(files)))
        bytes += file_size(window);
    return 100.0 * static_cast<double>(bytes) / static_cast<double>(total(files));
}

/// Every block of every file stands in exactly one window, in order, and every word keeps to the
/// code's limits.
void check_plan(const std::vector<Window>& windows, std::vector<FileSize> files,
                const Options& options) {
    std::sort(files.begin(), files.end(),
              [](const auto& a, const auto& b) { return a.name < b.name; });
    std::size_t file = 0;
    std::uint64_t offset = 0;
    for (std::size_t w = 0; w < windows.size(); ++w) {
        const Window& window = windows[w];
        const Geometry& shape = window.geometry;
        REQUIRE(window.number == w);
        REQUIRE(window.windows == windows.size());
        REQUIRE(shape.repair_blocks() * std::uint64_t{shape.block_size} <=
                std::max<std::uint64_t>(options.window_memory,
                                        std::uint64_t{shape.blocks} * shape.block_size));
        if (shape.blocks > 0) {
            REQUIRE(shape.k + shape.m <= 255);
            REQUIRE(shape.m >= 1);
            REQUIRE(shape.k == (shape.blocks + shape.words - 1) / shape.words);
        }
        std::uint32_t next = 0;
        for (const auto& extent : window.extents) {
            REQUIRE(extent.name == files[file].name);
            REQUIRE(extent.file_size == files[file].size);
            REQUIRE(extent.offset == offset);
            REQUIRE(extent.first == next);
            next += extent.blocks;
            offset += std::uint64_t{extent.blocks} * shape.block_size;
            if (offset < extent.file_size) continue;
            ++file;
            offset = 0;
        }
        REQUIRE(next == shape.blocks);
    }
    REQUIRE(file == files.size());
}

}  // namespace

TEST_CASE("all blocks have a place, whatever the files' sizes") {
    std::mt19937 random(1);
    for (int trial = 0; trial < 300; ++trial) {
        Options options = small_blocks(64, 100 + random() % 9900);
        options.window_memory = 64 * (1 + random() % 200);
        std::vector<FileSize> files;
        const unsigned count = 1 + random() % 40;
        for (unsigned i = 0; i < count; ++i) {
            const std::uint64_t size = random() % 5 == 0
                                           ? 64 * (random() % 4)
                                           : random() % (random() % 9 == 0 ? 20000 : 300);
            files.push_back({fmt::format("data/{}", random() % 1000000 * 50 + i), size});
        }
        for (const auto group : {Group::payload, Group::tags}) {
            check_plan(plan(group, files, options, total(files)), files, options);
        }
    }
    CHECK(plan(Group::payload, {}, Options{}, 0).empty());
}

TEST_CASE("the window of a block, its file and its place in it agree") {
    Options options = small_blocks();
    options.window_memory = 640;
    const auto windows =
        plan(Group::payload, {{"data/a", 1000}, {"data/b", 0}, {"data/c", 64 * 300 + 1}}, options,
             20201);
    REQUIRE(windows.size() > 1);
    std::uint64_t bytes = 0;
    for (const auto& window : windows) {
        for (std::uint32_t block = 0; block < window.geometry.blocks; ++block) {
            const Extent& extent = window.extent_of(block);
            CHECK(block >= extent.first);
            CHECK(block < extent.first + extent.blocks);
            CHECK(window.offset_of(block) + window.bytes_of(block) <= extent.file_size);
            bytes += window.bytes_of(block);
        }
    }
    CHECK(bytes == 1000 + 64 * 300 + 1);
}

TEST_CASE("the recovery data of a job over 1 GB takes at most half a point more than asked for") {
    // The promise of the project, at every percentage and for files of any usual size.
    for (const std::uint32_t percent : {100u, 200u, 500u, 700u, 1000u, 2000u, 5000u}) {
        Options options;
        options.percent = percent;
        for (const auto& [count, size] : {std::pair<std::size_t, std::uint64_t>{51, 20'000'000},
                                          {2000, 512'000},
                                          {12'000, 100'000},
                                          {1, 40'000'000'000},
                                          {2'000, 30'000'001}}) {
            const double got = share(files_of(count, size), options);
            INFO(percent << " hundredths, " << count << " files of " << size << ": " << got);
            CHECK(got <= percent / 100.0 + 0.5);
            CHECK(got >= percent / 100.0 * 0.97);
        }
    }
}

TEST_CASE("a bag of 2 GiB is one window, and larger ones stay within the memory") {
    const auto two_gib =
        plan(Group::payload, files_of(100, (2ull << 30) / 100), Options{}, 2ull << 30);
    REQUIRE(two_gib.size() == 1);
    CHECK(two_gib[0].geometry.m == 12);
    // A burst of 64 MiB, and its two ends, over words that each bear m losses.
    CHECK((64ull << 20) / 16384 / two_gib[0].geometry.words + 2 <= two_gib[0].geometry.m);
    for (const std::uint64_t gib : {4, 30, 200}) {
        for (const auto& window :
             plan(Group::payload, files_of(100, (gib << 30) / 100), Options{}, gib << 30)) {
            CHECK(std::uint64_t{window.geometry.repair_blocks()} * 16384 <= 112ull << 20);
            CHECK(std::uint64_t{window.geometry.repair_blocks()} * 16384 >= 72ull << 20);
        }
    }
}

TEST_CASE("tag files are doubled as long as that is little beside the payload") {
    const auto beside_large = plan(
        Group::tags, {{"bagit.txt", 55}, {"manifest-sha512.txt", 150'000}}, Options{}, 2ull << 30);
    REQUIRE(beside_large.size() == 1);
    CHECK(beside_large[0].geometry.repair_blocks() >= beside_large[0].geometry.blocks);
    const auto beside_small =
        plan(Group::tags, {{"photo-index/large.jpg", 10'000'000}}, Options{}, 1'000'000'000);
    CHECK(beside_small[0].geometry.repair_blocks() < 50);
}

TEST_CASE("reading by sets opens one window at a time") {
    Options options = small_blocks();
    options.window_memory = 1024;
    std::mt19937 random(3);
    for (int trial = 0; trial < 100; ++trial) {
        std::vector<FileSize> files;
        for (unsigned i = 0; i < 60; ++i) {
            files.push_back(
                {fmt::format("data/{:03}", i), random() % (random() % 7 == 0 ? 40000 : 900)});
        }
        const auto windows = plan(Group::payload, files, options, total(files));
        std::map<std::string_view, std::pair<std::uint32_t, std::uint32_t>> reach;
        for (const auto& window : windows) {
            for (const auto& extent : window.extents) {
                reach.try_emplace(extent.name, window.number, window.number).first->second.second =
                    window.number;
            }
        }
        std::set<std::string_view> seen;
        std::uint32_t at = 0;
        for (const auto& set : reading_sets(windows)) {
            for (const auto name : set) {
                CHECK(seen.insert(name).second);
                CHECK(reach[name].first >= at);
                if (set.size() > 1) CHECK(reach[name].first == reach[name].second);
            }
            at = reach[set.front()].second;
        }
        CHECK(seen.size() == files.size());
    }
}

TEST_CASE("what cannot be laid out is refused") {
    const std::vector<FileSize> one{{"data/a", 1}};
    Options options;
    options.percent = 99;
    CHECK_THROWS_AS(plan(Group::payload, one, options, 1), Error);
    options.percent = 10001;
    CHECK_THROWS_AS(plan(Group::payload, one, options, 1), Error);
    for (const std::uint32_t size : {0u, 32u, 100u, 2u << 20}) {
        options = {};
        options.block_size = size;
        CHECK_THROWS_AS(plan(Group::payload, one, options, 1), Error);
    }
    CHECK_THROWS_AS(plan(Group::payload, {{"data/a", 1}, {"data/a", 2}}, Options{}, 3), Error);
    for (const char* name : {"", "/data/a", "data//a", "data/../a", "../a", "data/.",
                             "recovery/payload-0001.recovery"}) {
        CHECK_THROWS_AS(plan(Group::tags, {{name, 1}}, Options{}, 1), Error);
    }
}

TEST_CASE("names of recovery files are told from others") {
    CHECK(file_name(Group::payload, 0) == "recovery/payload-0001.recovery");
    CHECK(file_name(Group::tags, 11) == "recovery/tags-0012.recovery");
    CHECK(is_file_name(file_name(Group::payload, 123456)));
    for (const char* name : {"recovery/payload-1.recovery", "recovery/payload-.recovery",
                             "payload-0001.recovery", "recovery/payload-0001.recovery.part",
                             "recovery/other-0001.recovery", "recovery/tags-00x1.recovery"}) {
        CHECK_FALSE(is_file_name(name));
    }
}

#include "glassine/recovery/layout.h"
#include "recovery/packet.h"

#include <random>

#include <catch2/catch.hpp>
#include <fmt/format.h>

using namespace glassine;
using namespace glassine::recovery;

/// What the real layout of a 2 GiB bag bears, by counting lost blocks in each code word: hundreds
/// of trials in the time that one with real bytes would take. That a word within its capacity is
/// healed, the other tests prove with bytes.
namespace {

constexpr std::uint64_t bag_size = std::uint64_t{2} << 30;

Window two_gib(std::size_t files) {
    std::vector<FileSize> list;
    for (std::size_t i = 0; i < files; ++i)
        list.push_back({fmt::format("data/{:05}", i), bag_size / files});
    auto windows = plan(Group::payload, list, Options{}, bag_size);
    REQUIRE(windows.size() == 1);
    return windows[0];
}

class Losses {
  public:
    explicit Losses(const Window& window)
        : window_(window), lost_(window.geometry.words), seen_(window.geometry.blocks) {}

    void lose_block(std::uint32_t block) {
        if (seen_[block]) return;
        seen_[block] = true;
        ++lost_[block % window_.geometry.words];
    }
    /// A repair block lost counts like a source block lost.
    void lose_repair(std::uint32_t index) { ++lost_[index % window_.geometry.words]; }
    bool healable() const {
        return std::all_of(lost_.begin(), lost_.end(),
                           [this](unsigned n) { return n <= window_.geometry.m; });
    }

  private:
    const Window& window_;
    std::vector<unsigned> lost_;
    std::vector<bool> seen_;
};

/// The block that holds byte `offset` of all files laid end to end.
std::uint32_t block_at(const Window& window, std::uint64_t offset) {
    const std::uint64_t size = window.extents[0].file_size;
    const Extent& extent =
        window.extents[std::min<std::uint64_t>(offset / size, window.extents.size() - 1)];
    return extent.first + static_cast<std::uint32_t>(offset % size / window.geometry.block_size);
}

bool burst_is_healed(const Window& window, std::uint64_t from, std::uint64_t length) {
    Losses losses(window);
    const std::uint32_t last = block_at(window, from + length - 1);
    for (std::uint32_t block = block_at(window, from); block <= last; ++block)
        losses.lose_block(block);
    return losses.healable();
}

/// Damaged sectors anywhere in the bag, the recovery file included.
bool sectors_are_healed(const Window& window, unsigned sectors, std::mt19937_64& random) {
    Losses losses(window);
    const std::uint64_t recovery = file_size(window);
    for (unsigned i = 0; i < sectors; ++i) {
        const std::uint64_t at = random() % (bag_size + recovery) / 4096 * 4096;
        if (at < bag_size) {
            losses.lose_block(block_at(window, at));
            continue;
        }
        const std::uint64_t packet = window.geometry.block_size + header_size;
        const std::uint64_t first = (at - bag_size) / packet,
                            last = (at - bag_size + 4095) / packet;
        for (std::uint64_t p = first;
             p <= std::min<std::uint64_t>(last, window.geometry.repair_blocks() - 1); ++p) {
            losses.lose_repair(static_cast<std::uint32_t>(p));
        }
    }
    return losses.healable();
}

}  // namespace

TEST_CASE("a burst of 64 MiB anywhere in a bag of 2 GiB is within the capacity at 5 %") {
    for (const std::size_t files : {1u, 100u, 2000u}) {
        const Window window = two_gib(files);
        constexpr std::uint64_t burst = 64u << 20;
        for (std::uint64_t from = 0; from + burst <= bag_size; from += 5'000'011) {
            REQUIRE(burst_is_healed(window, from, burst));
        }
        REQUIRE(burst_is_healed(window, bag_size - burst, burst));
    }
    const Window window = two_gib(1);
    const std::uint64_t longest =
        std::uint64_t{window.geometry.m - 1u} * window.geometry.words * 16384;
    CHECK(longest > 93u << 20);
    CHECK(burst_is_healed(window, 12345, longest));
    CHECK_FALSE(burst_is_healed(window, 12345, longest + (32u << 20)));
}

TEST_CASE("1,000 damaged sectors anywhere in a bag of 2 GiB are within the capacity at 5 %") {
    const Window window = two_gib(100);
    std::mt19937_64 random(1);
    int healed = 0;
    for (int trial = 0; trial < 300; ++trial)
        healed += sectors_are_healed(window, 1000, random);
    CHECK(healed == 300);
}

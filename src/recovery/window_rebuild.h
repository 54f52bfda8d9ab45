#pragma once

#include "glassine/io/large_memory.h"
#include "glassine/recovery/code.h"
#include "glassine/recovery/rebuilder.h"
#include "recovery/bag_reader.h"

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <stop_token>
#include <string_view>
#include <vector>

namespace glassine::recovery {

/// Where blocks are read from: the bag itself and its other copies.
struct Copies {
    BagReader own;
    std::vector<BagReader> others;
};

/// The damage of one window and the way out of it.
class WindowRebuild {
  public:
    WindowRebuild(RecoverySet& set, std::size_t window, std::set<std::uint32_t> lost,
                  Copies& copies, const RebuildOptions& options);

    /// Decides for each lost block where it is to come from. Reads from other copies where repair
    /// blocks do not suffice.
    void plan();

    enum class Way { recovery, other_copy, none };
    bool is_lost(std::uint32_t block) const { return lost_.contains(block); }
    Way way(std::uint32_t block) const;
    const std::set<std::uint32_t>& lost() const { return lost_; }

    std::uint32_t usable_repair_blocks() const { return usable_repair_; }
    /// Lost and usable symbols of the code word with the least to spare.
    std::pair<std::uint32_t, std::uint32_t> fullest() const { return fullest_; }

    /// Rebuilds all blocks that code words owe to blocks for which `wanted` is true. Blocks that
    /// turn out to be damaged on the way are added to the lost ones, and `plan` is made anew.
    void rebuild(std::function<bool(std::uint32_t block)> wanted);

    /// The right bytes of a block: rebuilt, or read from where it is whole. False when they cannot
    /// be had (any more).
    bool read(std::uint32_t block, std::span<std::byte> into);

  private:
    struct Word;

    std::vector<std::uint32_t> usable_rows(std::uint32_t word) const;
    std::size_t in_others(const std::vector<std::uint32_t>& blocks) const;
    std::optional<std::uint8_t> find_in_others(std::uint32_t block);
    bool read_from(BagReader& reader, std::uint32_t block, std::span<std::byte> into);
    bool is_right(std::uint32_t block, std::span<const std::byte> bytes) const;
    void rebuild_wanted();
    std::vector<Word> words_to_solve();
    std::set<std::uint32_t> take_in_blocks(std::vector<Word>& words);
    std::uint32_t end_of_run(std::uint32_t block, std::size_t bytes,
                             const std::function<bool(std::uint32_t)>& belongs) const;
    void read_run(std::uint32_t begin, std::uint32_t end, std::span<std::byte> buffer,
                  const std::function<void(std::uint32_t, std::span<const std::byte>)>& take,
                  std::set<std::uint32_t>& newly_lost);
    void take_in_repair(Word& word);
    void solve(Word& word);
    void interruption_point(std::uint64_t bytes);

    RecoverySet& set_;
    std::size_t number_;
    const Window& window_;
    std::set<std::uint32_t> lost_;
    Copies& copies_;
    const RebuildOptions& options_;
    std::function<bool(std::uint32_t)> wanted_;
    std::shared_ptr<const Checks> checks_;
    std::optional<Code> code_;

    std::map<std::uint32_t, std::uint8_t> in_other_copy_;  ///< lost block: which other copy has it
    std::set<std::uint32_t> hopeless_;                     ///< lost blocks that nothing gives back
    std::uint32_t usable_repair_ = 0;
    std::pair<std::uint32_t, std::uint32_t> fullest_{0, 0};
    std::map<std::uint32_t, std::size_t> rebuilt_;  ///< block: where in `memory_`
    io::LargeMemory memory_;
};

}  // namespace glassine::recovery

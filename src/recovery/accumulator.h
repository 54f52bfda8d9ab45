#pragma once

#include "glassine/io/large_memory.h"
#include "glassine/recovery/code.h"
#include "glassine/recovery/layout.h"

#include <array>
#include <cstddef>
#include <cstdint>
#include <mutex>
#include <span>
#include <vector>

namespace glassine::recovery {

/// The repair blocks of one window while its source blocks come in, in any order, from several
/// threads.
///
/// Neighbouring blocks belong to different code words, so taking each block in at once would carry
/// all repair blocks of the window, far more than a cache holds, through the memory bus for every
/// m-th part of them that is read. Blocks therefore wait until several of one code word can be
/// taken in while its repair blocks are hot.
class Accumulator {
  public:
    Accumulator(const Geometry& geometry, std::uint64_t waiting_memory);

    /// Takes in one block; `bytes` may be shorter than a block, the rest counts as zero. Each block
    /// once.
    void add(std::uint32_t block, std::span<const std::byte> bytes);

    /// Takes in everything that still waits. After this no `add`.
    void flush();

    /// Repair block number `index` = r * words + c: repair symbol r of code word c. Only after
    /// `flush`.
    std::span<const std::byte> repair_block(std::uint32_t index) const;

  private:
    struct Waiting {
        std::uint32_t slot;
        std::uint16_t symbol;
        std::uint32_t length;
    };
    struct Word {
        std::uint16_t waiting = 0;
        std::uint16_t due = 0;  ///< blocks that are taken in together the next time
    };

    void take_in(std::uint32_t word);
    void add_symbol(std::uint32_t word, unsigned symbol, std::span<const std::byte> bytes);
    bool let_wait(std::uint32_t word, unsigned symbol, std::span<const std::byte> bytes);
    bool take_slot(std::uint32_t& slot);

    Geometry geometry_;
    Code code_;
    io::LargeMemory repair_;  ///< by code word: its repair blocks stand together
    unsigned together_;
    io::LargeMemory slots_;
    std::vector<std::uint32_t> free_slots_;
    std::mutex slots_mutex_;
    std::vector<Waiting> waiting_;  ///< `together_` places for each code word
    std::vector<Word> words_;
    std::array<std::mutex, 64> word_mutexes_;
};

}  // namespace glassine::recovery

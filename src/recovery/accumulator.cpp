#include "recovery/accumulator.h"

#include <algorithm>
#include <cassert>
#include <cstring>
#include <numeric>

namespace glassine::recovery {

namespace {

constexpr unsigned most_together = 16;

/// How many blocks of a code word are taken in together. The words take turns, so on average half
/// of that waits.
unsigned blocks_together(const Geometry& geometry, std::uint64_t waiting_memory) {
    const std::uint64_t one_of_each_word = std::uint64_t{geometry.words} * geometry.block_size;
    return static_cast<unsigned>(
        std::clamp<std::uint64_t>(2 * waiting_memory / one_of_each_word, 1, most_together));
}

std::size_t slot_count(const Geometry& geometry, unsigned together, std::uint64_t waiting_memory) {
    const std::uint64_t allowed = waiting_memory / geometry.block_size;
    return std::min(
        {allowed, std::uint64_t{geometry.words} * together, std::uint64_t{geometry.blocks}});
}

}  // namespace

Accumulator::Accumulator(const Geometry& geometry, std::uint64_t waiting_memory)
    : geometry_(geometry),
      code_(geometry.k, geometry.m),
      repair_(std::size_t{geometry.repair_blocks()} * geometry.block_size),
      together_(blocks_together(geometry, waiting_memory)),
      slots_(slot_count(geometry, together_, waiting_memory) * geometry.block_size),
      free_slots_(slots_.size() / geometry.block_size),
      waiting_(std::size_t{geometry.words} * together_),
      words_(geometry.words) {
    std::iota(free_slots_.rbegin(), free_slots_.rend(), 0);
    // Files are mostly read in order, and all code words in turn: were they all due at the same
    // time, all slots would fill and empty together, and half the memory would do nothing.
    for (std::uint32_t word = 0; word < geometry.words; ++word) {
        words_[word].due = static_cast<std::uint16_t>(1 + word % together_);
    }
}

void Accumulator::add(std::uint32_t block, std::span<const std::byte> bytes) {
    assert(block < geometry_.blocks && bytes.size() <= geometry_.block_size);
    const std::uint32_t word = block % geometry_.words;
    const unsigned symbol = block / geometry_.words;
    const std::lock_guard lock(word_mutexes_[word % word_mutexes_.size()]);
    if (words_[word].waiting + 1u < words_[word].due && let_wait(word, symbol, bytes)) return;
    take_in(word);
    add_symbol(word, symbol, bytes);
    words_[word].due = static_cast<std::uint16_t>(together_);
}

void Accumulator::flush() {
    for (std::uint32_t word = 0; word < geometry_.words; ++word) {
        take_in(word);
    }
}

std::span<const std::byte> Accumulator::repair_block(std::uint32_t index) const {
    const std::size_t word = index % geometry_.words;
    const std::size_t symbol = index / geometry_.words;
    return {repair_.at((word * geometry_.m + symbol) * geometry_.block_size), geometry_.block_size};
}

void Accumulator::take_in(std::uint32_t word) {
    const Waiting* waiting = &waiting_[std::size_t{word} * together_];
    const unsigned count = words_[word].waiting;
    for (unsigned i = 0; i < count; ++i) {
        const std::byte* bytes = slots_.at(std::size_t{waiting[i].slot} * geometry_.block_size);
        add_symbol(word, waiting[i].symbol, {bytes, waiting[i].length});
    }
    words_[word].waiting = 0;
    const std::lock_guard lock(slots_mutex_);
    for (unsigned i = 0; i < count; ++i)
        free_slots_.push_back(waiting[i].slot);
}

void Accumulator::add_symbol(std::uint32_t word, unsigned symbol,
                             std::span<const std::byte> bytes) {
    if (bytes.empty()) return;
    std::array<Symbol, Code::most_symbols> repair;
    std::byte* first = repair_.at(std::size_t{word} * geometry_.m * geometry_.block_size);
    for (unsigned r = 0; r < geometry_.m; ++r) {
        repair[r] = reinterpret_cast<Symbol>(first + std::size_t{r} * geometry_.block_size);
    }
    code_.add(symbol, bytes, std::span(repair).first(geometry_.m));
}

bool Accumulator::let_wait(std::uint32_t word, unsigned symbol, std::span<const std::byte> bytes) {
    std::uint32_t slot = 0;
    if (!take_slot(slot)) return false;
    if (!bytes.empty()) {
        std::memcpy(slots_.at(std::size_t{slot} * geometry_.block_size), bytes.data(),
                    bytes.size());
    }
    waiting_[std::size_t{word} * together_ + words_[word].waiting] = {
        slot, static_cast<std::uint16_t>(symbol), static_cast<std::uint32_t>(bytes.size())};
    ++words_[word].waiting;
    return true;
}

bool Accumulator::take_slot(std::uint32_t& slot) {
    const std::lock_guard lock(slots_mutex_);
    if (free_slots_.empty()) return false;
    slot = free_slots_.back();
    free_slots_.pop_back();
    return true;
}

}  // namespace glassine::recovery

#pragma once

#include "glassine/flow/distributor.h"

#include <atomic>
#include <condition_variable>
#include <cstdlib>
#include <memory>
#include <mutex>
#include <new>
#include <vector>

namespace glassine::flow {

class BlockPool;

/// A piece of the pool's memory with the number of those who still need it.
struct BlockSlot {
    std::byte* memory = nullptr;
    std::size_t size = 0;
    std::atomic<unsigned> users{0};
    BlockPool* pool = nullptr;

    void release();
};

/// All the memory for file content: one allocation, handed out in blocks, never grown.
class BlockPool {
  public:
    static constexpr std::size_t alignment = 4096;

    BlockPool(std::size_t blocks, std::size_t block_size)
        : memory_(static_cast<std::byte*>(std::aligned_alloc(alignment, blocks * block_size)),
                  &std::free),
          slots_(blocks) {
        if (!memory_) throw std::bad_alloc();
        for (std::size_t i = 0; i < blocks; ++i) {
            slots_[i].memory = memory_.get() + i * block_size;
            slots_[i].size = block_size;
            slots_[i].pool = this;
            free_.push_back(&slots_[i]);
        }
    }

    /// A block with one user, or nullptr when none is free.
    BlockSlot* try_take() {
        const std::lock_guard lock(mutex_);
        return take_locked();
    }

    /// Waits until a block comes free.
    BlockSlot* take() {
        std::unique_lock lock(mutex_);
        came_free_.wait(lock, [this] { return !free_.empty(); });
        return take_locked();
    }

    void give_back(BlockSlot* slot) {
        {
            const std::lock_guard lock(mutex_);
            free_.push_back(slot);
        }
        came_free_.notify_one();
    }

  private:
    BlockSlot* take_locked() {
        if (free_.empty()) return nullptr;
        // Last in, first out: its memory is the likeliest to be in the cache still.
        BlockSlot* slot = free_.back();
        free_.pop_back();
        slot->users.store(1, std::memory_order_relaxed);
        return slot;
    }

    std::unique_ptr<std::byte, decltype(&std::free)> memory_;
    std::vector<BlockSlot> slots_;
    std::mutex mutex_;
    std::condition_variable came_free_;
    std::vector<BlockSlot*> free_;
};

inline void BlockSlot::release() {
    if (users.fetch_sub(1, std::memory_order_acq_rel) == 1) pool->give_back(this);
}

}  // namespace glassine::flow

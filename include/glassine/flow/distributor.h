#pragma once

#include "glassine/flow/sink.h"

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <span>
#include <vector>

namespace glassine::flow {

/// Where the memory and the threads of a run are decided.
struct Resources {
    std::size_t threads = 0;              ///< that run the sinks; 0: one for each core
    std::size_t block_size = 512u << 10;  ///< bytes; a multiple of 4096
    std::size_t blocks = 96;  ///< in the pool: its size is all the memory for file content
};

struct BlockSlot;
struct DistributorState;

struct SinkFailure {
    Sink* sink;
    Error error;
};

/// Hands blocks to all sinks on all cores. The lower half of the river, for producers that read
/// something else than files (a serialised bag); most callers want `River`.
///
/// A file's blocks reach each sink in order; different sinks, and different files of one sink, run
/// side by side. All members may be called from several producer threads, but each file by one at a
/// time.
class Distributor {
  public:
    Distributor(std::span<Sink* const> sinks, Resources resources);
    /// Waits for everything handed over.
    ~Distributor();

    class File;

    /// A block of memory from the pool, aligned to 4096. When the pool is empty the calling thread
    /// helps the sinks until a block comes free.
    class Block {
      public:
        Block() = default;
        Block(Block&& other) noexcept;
        Block& operator=(Block&& other) noexcept;
        ~Block();
        std::span<std::byte> bytes() const;

      private:
        friend class Distributor;
        BlockSlot* slot_ = nullptr;
    };
    Block acquire();

    std::shared_ptr<File> open(Item item);
    /// Hands over the first `length` bytes of the block as the file's bytes from `offset`.
    void push(File& file, Block block, std::uint64_t offset, std::size_t length);
    void gap(File& file, std::uint64_t offset, std::uint64_t length);
    void close(File& file, Outcome outcome);

    /// Returns when all sinks have finished all closed files.
    void wait();
    /// As `wait`, but gives up after a while: false when there is work left.
    bool wait_for(std::chrono::milliseconds time);
    /// True when every sink has failed: reading on would serve nobody.
    bool all_failed() const;
    std::vector<SinkFailure> failures() const;

  private:
    std::unique_ptr<DistributorState> state_;
};

}  // namespace glassine::flow

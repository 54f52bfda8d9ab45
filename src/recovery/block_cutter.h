#pragma once

#include <algorithm>
#include <cstdint>
#include <span>
#include <vector>

namespace glassine::recovery {

/// Cuts the bytes of a file, coming in pieces of any length, into its blocks: all of `block_size`
/// but the last.
class BlockCutter {
  public:
    BlockCutter(std::uint64_t file_size, std::uint32_t block_size)
        : file_size_(file_size), block_size_(block_size) {}

    /// Where the next byte is expected; bytes behind the file's size are not taken.
    std::uint64_t position() const { return block_ + partial_.size(); }

    /// Calls `take(offset, bytes)` for each block that is complete now.
    template <typename Take>
    void add(std::span<const std::byte> bytes, const Take& take) {
        while (!bytes.empty() && block_ < file_size_) {
            const auto wanted =
                static_cast<std::size_t>(std::min<std::uint64_t>(block_size_, file_size_ - block_));
            if (partial_.empty() && bytes.size() >= wanted) {
                pass(bytes.first(wanted), take);
                bytes = bytes.subspan(wanted);
                continue;
            }
            const std::size_t more = std::min(wanted - partial_.size(), bytes.size());
            partial_.insert(partial_.end(), bytes.begin(),
                            bytes.begin() + static_cast<std::ptrdiff_t>(more));
            bytes = bytes.subspan(more);
            if (partial_.size() < wanted) continue;
            pass(partial_, take);
            partial_.clear();
        }
    }

    /// Forgets the block that is not complete, and goes on at the first block that begins at
    /// `offset` or behind it. Bytes before that block must not be handed over; `skip_to` says how
    /// many of those from `offset` on.
    std::uint64_t skip_to(std::uint64_t offset) {
        partial_.clear();
        block_ = (offset + block_size_ - 1) / block_size_ * block_size_;
        return block_ - offset;
    }

    /// The beginning of the block that is being collected.
    std::uint64_t block() const { return block_; }

  private:
    template <typename Take>
    void pass(std::span<const std::byte> bytes, const Take& take) {
        const std::uint64_t offset = block_;
        block_ += bytes.size();
        take(offset, bytes);
    }

    std::uint64_t file_size_;
    std::uint32_t block_size_;
    std::uint64_t block_ = 0;
    std::vector<std::byte> partial_;
};

}  // namespace glassine::recovery

#pragma once

#include <cstddef>
#include <span>

namespace glassine::io {

/// A large piece of memory, zero to begin with, straight from the operating system and given back
/// to it whole.
///
/// Asks for large pages where the system has them: for tens of megabytes that are walked through
/// again and again, first touching them page by page costs more than the work itself. Throws
/// std::bad_alloc.
class LargeMemory {
  public:
    LargeMemory() = default;
    explicit LargeMemory(std::size_t size);
    LargeMemory(LargeMemory&& other) noexcept;
    LargeMemory& operator=(LargeMemory&& other) noexcept;
    ~LargeMemory();

    std::byte* at(std::size_t offset) { return bytes_ + offset; }
    const std::byte* at(std::size_t offset) const { return bytes_ + offset; }
    std::size_t size() const { return size_; }

  private:
    std::byte* bytes_ = nullptr;
    std::size_t size_ = 0;
};

}  // namespace glassine::io

#include "glassine/io/large_memory.h"

#include <new>
#include <utility>

#include <sys/mman.h>

namespace glassine::io {

LargeMemory::LargeMemory(std::size_t size) : size_(size) {
    if (size == 0) return;
    void* memory =
        ::mmap(nullptr, size, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
    if (memory == MAP_FAILED) throw std::bad_alloc();
#ifdef MADV_HUGEPAGE
    // Advice only: where it is refused, ordinary pages serve as well, just more slowly.
    static_cast<void>(::madvise(memory, size, MADV_HUGEPAGE));
#endif
    bytes_ = static_cast<std::byte*>(memory);
}

LargeMemory::LargeMemory(LargeMemory&& other) noexcept
    : bytes_(std::exchange(other.bytes_, nullptr)), size_(std::exchange(other.size_, 0)) {}

LargeMemory& LargeMemory::operator=(LargeMemory&& other) noexcept {
    std::swap(bytes_, other.bytes_);
    std::swap(size_, other.size_);
    return *this;
}

LargeMemory::~LargeMemory() {
    if (bytes_ != nullptr) ::munmap(bytes_, size_);
}

}  // namespace glassine::io

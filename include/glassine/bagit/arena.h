#pragma once

#include <cstddef>
#include <cstring>
#include <memory>
#include <span>
#include <string_view>
#include <vector>

/// Containers that grow by whole chunks: a million small things cost neither an allocation each
/// nor, while they grow, twice their memory.
namespace glassine::bagit {

/// Keeps texts; what `add` returns stays where it is.
class TextArena {
  public:
    std::string_view add(std::string_view text) {
        if (text.size() > left_) grow(text.size());
        char* at = next_;
        std::memcpy(at, text.data(), text.size());
        next_ += text.size();
        left_ -= text.size();
        return {at, text.size()};
    }

  private:
    static constexpr std::size_t chunk = 1u << 20;
    void grow(std::size_t at_least) {
        const std::size_t size = at_least > chunk ? at_least : chunk;
        chunks_.push_back(std::make_unique_for_overwrite<char[]>(size));
        next_ = chunks_.back().get();
        left_ = size;
    }
    std::vector<std::unique_ptr<char[]>> chunks_;
    char* next_ = nullptr;
    std::size_t left_ = 0;
};

/// A vector in chunks of 16 Ki elements. Elements are plain data.
template <typename T>
class ChunkedVector {
  public:
    void push_back(const T& value) {
        if (size_ == chunks_.size() << shift)
            chunks_.push_back(std::make_unique_for_overwrite<T[]>(std::size_t{1} << shift));
        (*this)[size_++] = value;
    }
    T& operator[](std::size_t i) { return chunks_[i >> shift][i & mask]; }
    const T& operator[](std::size_t i) const { return chunks_[i >> shift][i & mask]; }
    std::size_t size() const { return size_; }
    bool empty() const { return size_ == 0; }

  private:
    static constexpr unsigned shift = 14;
    static constexpr std::size_t mask = (std::size_t{1} << shift) - 1;
    std::vector<std::unique_ptr<T[]>> chunks_;
    std::size_t size_ = 0;
};

/// Records of a fixed number of bytes each, in chunks.
class ChunkedBytes {
  public:
    explicit ChunkedBytes(std::size_t width) : width_(width) {}
    std::byte* push_back() {
        if (size_ == chunks_.size() * per_chunk)
            chunks_.push_back(std::make_unique_for_overwrite<std::byte[]>(per_chunk * width_));
        return at(size_++);
    }
    std::byte* at(std::size_t i) { return chunks_[i / per_chunk].get() + (i % per_chunk) * width_; }
    std::span<const std::byte> operator[](std::size_t i) const {
        return {chunks_[i / per_chunk].get() + (i % per_chunk) * width_, width_};
    }
    std::size_t size() const { return size_; }

  private:
    static constexpr std::size_t per_chunk = 4096;
    std::size_t width_;
    std::vector<std::unique_ptr<std::byte[]>> chunks_;
    std::size_t size_ = 0;
};

}  // namespace glassine::bagit

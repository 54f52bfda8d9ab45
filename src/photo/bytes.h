#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

namespace glassine::photo {

using Bytes = std::span<const std::byte>;

inline std::string_view as_text(Bytes bytes) {
    return {reinterpret_cast<const char*>(bytes.data()), bytes.size()};
}
inline Bytes as_bytes(std::string_view text) {
    return std::as_bytes(std::span(text.data(), text.size()));
}

/// Bytes from which a file's kind can be told (kind_of).
constexpr std::size_t head_size = 64;

/// Does [offset, offset + length) lie inside `size` bytes? Never overflows.
constexpr bool inside(std::uint64_t size, std::uint64_t offset, std::uint64_t length) {
    return offset <= size && length <= size - offset;
}

/// Reads numbers of either byte order at offsets that may be hostile: nothing where they lie
/// outside.
class ByteReader {
  public:
    ByteReader(Bytes bytes, bool big_endian) : bytes_(bytes), big_endian_(big_endian) {}

    std::uint64_t size() const { return bytes_.size(); }
    bool big_endian() const { return big_endian_; }

    /// `width` is 1 to 8 bytes.
    std::optional<std::uint64_t> number(std::uint64_t offset, unsigned width) const {
        if (!inside(bytes_.size(), offset, width)) return std::nullopt;
        std::uint64_t value = 0;
        for (unsigned i = 0; i < width; ++i) {
            const unsigned at = big_endian_ ? i : width - 1 - i;
            value = value << 8 | std::to_integer<std::uint64_t>(bytes_[offset + at]);
        }
        return value;
    }

    std::optional<Bytes> range(std::uint64_t offset, std::uint64_t length) const {
        if (!inside(bytes_.size(), offset, length)) return std::nullopt;
        return bytes_.subspan(offset, length);
    }

    bool text_at(std::uint64_t offset, std::string_view text) const {
        const auto found = range(offset, text.size());
        return found && as_text(*found) == text;
    }

  private:
    Bytes bytes_;
    bool big_endian_;
};

}  // namespace glassine::photo

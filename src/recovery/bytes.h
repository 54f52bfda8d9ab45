#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

/// Little-endian numbers in byte strings: the byte order of recovery files, whatever the machine's.
namespace glassine::recovery {

template <typename Number>
void put_number(std::byte* at, Number value) {
    for (std::size_t i = 0; i < sizeof(Number); ++i) {
        at[i] = static_cast<std::byte>(static_cast<std::uint64_t>(value) >> (8 * i));
    }
}

template <typename Number>
Number get_number(const std::byte* at) {
    std::uint64_t value = 0;
    for (std::size_t i = 0; i < sizeof(Number); ++i) {
        value |= std::to_integer<std::uint64_t>(at[i]) << (8 * i);
    }
    return static_cast<Number>(value);
}

}  // namespace glassine::recovery

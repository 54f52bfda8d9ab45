#include "glassine/recovery/check.h"

#include <isa-l/crc64.h>

namespace glassine::recovery {

namespace {

/// x^64 + x^62 + x^57 + ... + 1 of ECMA-182 with the bits in reflected order.
constexpr Check reflected_polynomial = 0xc96c5795d7870f42;

}  // namespace

Check check_more(Check before, std::span<const std::byte> bytes) {
    return crc64_ecma_refl(before, reinterpret_cast<const unsigned char*>(bytes.data()),
                           bytes.size());
}

Check check_of(std::span<const std::byte> bytes) {
    return check_more(0, bytes);
}

// The CRC is linear: two runs of one length that differ in one bit have check values that differ by
// what that bit alone leaves in the register: the polynomial for the last bit, stepped once more
// for each bit before it.
std::optional<std::uint64_t> single_flipped_bit(Check was, Check is, std::size_t length) {
    const Check difference = was ^ is;
    Check trace = reflected_polynomial;
    for (std::uint64_t bit = 8 * std::uint64_t{length}; bit-- > 0;) {
        if (trace == difference) return bit;
        trace = (trace >> 1) ^ ((trace & 1) != 0 ? reflected_polynomial : 0);
    }
    return std::nullopt;
}

}  // namespace glassine::recovery

#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>

/// The check value of recovery data: CRC-64/XZ (polynomial of ECMA-182 Annex B, reflected).
///
/// It finds damage, it proves nothing: the proof of a file is its digest in the manifest. A CRC
/// because a stranger writes it down in ten lines, because ISA-L computes it as fast as memory
/// delivers, and because the difference of two of them alone tells which single bit was flipped.
namespace glassine::recovery {

using Check = std::uint64_t;

/// The check value of these bytes; of "123456789" it is 0x995dc9bbdf1939fa.
Check check_of(std::span<const std::byte> bytes);

/// Goes on from the check value of what came before; `check_more(0, x)` is `check_of(x)`.
Check check_more(Check before, std::span<const std::byte> bytes);

/// Which bit of a run of `length` bytes was flipped if exactly one was, given the check value that
/// the run had and the one that it has now. Bit i is the bit of weight 2^(i mod 8) in byte i / 8.
/// Nothing when no single flip explains the difference; a wrong answer by chance has odds of 8 *
/// length in 2^64.
std::optional<std::uint64_t> single_flipped_bit(Check was, Check is, std::size_t length);

}  // namespace glassine::recovery

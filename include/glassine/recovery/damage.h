#pragma once

#include "glassine/base/finding.h"

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace glassine::recovery {

/// What damage looks like.
enum class Look {
    flipped_bits,  ///< a few bits differ
    zeroed,        ///< zeros stand where other bytes should
    foreign,       ///< other bytes stand there
    unreadable,    ///< the medium does not give the bytes
    truncated,     ///< the file ends before
    lost,          ///< the file is not there
    surplus,       ///< the file goes on behind its end
    unknown,  ///< the file is wrong, and the check values that would tell where are lost as well
};
std::string_view word(Look look);

/// A damaged part of a file, as found without having the right bytes: whole blocks.
struct DamagedRange {
    std::uint64_t offset = 0;
    std::uint64_t length = 0;
    Look look = Look::foreign;
    /// When exactly one bit is flipped: which one, counted from the beginning of the file; bit b is
    /// the bit of weight 2^(b mod 8) in byte b / 8.
    std::optional<std::uint64_t> bit;

    bool operator==(const DamagedRange&) const = default;
};

/// What is wrong with one file, measured against the recovery data.
struct FileDamage {
    std::string name;
    std::uint64_t size = 0;                   ///< that it should have
    std::optional<std::uint64_t> found_size;  ///< that it has; nothing when it is lost
    std::vector<DamagedRange> ranges;  ///< ascending; empty when it only grew, or is empty and lost

    std::uint64_t bytes() const;
    bool operator==(const FileDamage&) const = default;
};

/// One sentence for a person: "1 bit is flipped (bit 3 of byte 40,962)", "3 ranges, 80 KiB in all:
/// …".
std::string describe(const FileDamage& damage);

/// A difference between the damaged bytes and the right ones, as known once these are rebuilt.
/// Differences that lie close together are told as one.
struct Change {
    std::uint64_t offset = 0;
    std::uint64_t length = 0;
    std::uint64_t bytes_changed = 0;  ///< of those, how many differ
    std::uint64_t bits_changed = 0;
    Look look = Look::foreign;
    std::optional<std::uint64_t> bit;  ///< as in DamagedRange, when one bit differs

    bool operator==(const Change&) const = default;
};

/// "bit 3 of byte 40,962 was flipped", "bytes 8,192 to 12,287 were zero", …
std::string describe(const Change& change);

/// Adds a difference to those that stand before it in the file, as one with the last where the two
/// touch.
void add_change(std::vector<Change>& changes, const Change& next);

/// Compares what stands in a file with what should: both from `offset` on, of equal length. Adds to
/// `changes`.
void compare(std::uint64_t offset, std::span<const std::byte> found,
             std::span<const std::byte> right, std::vector<Change>& changes);

}  // namespace glassine::recovery

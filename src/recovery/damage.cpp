#include "glassine/recovery/damage.h"

#include "glassine/base/text.h"

#include <algorithm>
#include <bit>

#include <fmt/format.h>

namespace glassine::recovery {

namespace {

constexpr std::size_t close_together = 16;   ///< equal bytes that do not part two differences
constexpr std::size_t most_changes = 10000;  ///< of a file told one by one
constexpr std::uint64_t few_bits = 8;
constexpr std::size_t smallest_zeroed = 16;  ///< bytes: fewer zeros may stand anywhere

bool all_zero(std::span<const std::byte> bytes) {
    return std::all_of(bytes.begin(), bytes.end(), [](std::byte b) { return b == std::byte{0}; });
}

Change change_of(std::uint64_t offset, std::span<const std::byte> found,
                 std::span<const std::byte> right) {
    Change change{.offset = offset, .length = found.size(), .bit = {}};
    for (std::size_t i = 0; i < found.size(); ++i) {
        const auto difference = std::to_integer<unsigned>(found[i] ^ right[i]);
        if (difference == 0) continue;
        ++change.bytes_changed;
        change.bits_changed += static_cast<unsigned>(std::popcount(difference));
        change.bit = 8 * (offset + i) + static_cast<unsigned>(std::countr_zero(difference));
    }
    if (change.bits_changed != 1) change.bit.reset();
    if (found.size() >= smallest_zeroed && all_zero(found)) {
        change.look = Look::zeroed;
    } else if (change.bits_changed <= few_bits) {
        change.look = Look::flipped_bits;
    }
    return change;
}

/// One run after another when they touch: they were cut apart only by the end of a block.
bool continues(const Change& last, const Change& next) {
    return last.offset + last.length == next.offset && last.look == next.look &&
           last.look != Look::flipped_bits;
}

std::string place_of_bit(std::uint64_t bit) {
    return fmt::format("bit {} of byte {}", bit % 8, text::grouped(bit / 8));
}

std::string place_of_bytes(std::uint64_t offset, std::uint64_t length) {
    if (length == 1) return "byte " + text::grouped(offset);
    return fmt::format("bytes {} to {}", text::grouped(offset), text::grouped(offset + length - 1));
}

std::string_view what_stands_there(Look look) {
    switch (look) {
        case Look::flipped_bits:
            return "bits are flipped";
        case Look::zeroed:
            return "zeros stand there";
        case Look::foreign:
            return "other bytes stand there";
        case Look::unreadable:
            return "the medium does not give them";
        case Look::truncated:
            return "the file ends before";
        case Look::lost:
            return "the file is lost";
        case Look::surplus:
            return "they do not belong to the file";
        case Look::unknown:
            return "they may be wrong";
    }
    return "";
}

std::string describe(const DamagedRange& range) {
    if (range.bit) return place_of_bit(*range.bit) + " is flipped";
    return fmt::format("within {}: {}", place_of_bytes(range.offset, range.length),
                       what_stands_there(range.look));
}

}  // namespace

std::string_view word(Look look) {
    switch (look) {
        case Look::flipped_bits:
            return "flipped-bits";
        case Look::zeroed:
            return "zeroed";
        case Look::foreign:
            return "foreign";
        case Look::unreadable:
            return "unreadable";
        case Look::truncated:
            return "truncated";
        case Look::lost:
            return "lost";
        case Look::surplus:
            return "surplus";
        case Look::unknown:
            return "unknown";
    }
    return "";
}

std::uint64_t FileDamage::bytes() const {
    std::uint64_t sum = 0;
    for (const auto& range : ranges)
        sum += range.length;
    return sum;
}

std::string describe(const FileDamage& damage) {
    constexpr std::size_t told = 3;
    if (!damage.found_size)
        return fmt::format("the file is lost ({} bytes)", text::grouped(damage.size));
    std::string sentence;
    if (*damage.found_size != damage.size) {
        sentence = fmt::format("the file has {} bytes and should have {}",
                               text::grouped(*damage.found_size), text::grouped(damage.size));
    }
    std::size_t count = 0;
    for (const auto& range : damage.ranges) {
        if (range.look == Look::truncated) continue;
        if (count++ < told) sentence += (sentence.empty() ? "" : "; ") + describe(range);
    }
    if (count > told) sentence += fmt::format("; and {} more places", count - told);
    return sentence;
}

std::string describe(const Change& change) {
    if (change.bit) return place_of_bit(*change.bit) + " was flipped";
    const std::string place = place_of_bytes(change.offset, change.length);
    switch (change.look) {
        case Look::flipped_bits:
            return fmt::format("{} bits in {} were flipped", change.bits_changed, place);
        case Look::zeroed:
            return place + " were zero";
        case Look::unreadable:
            return place + " could not be read";
        case Look::truncated:
            return place + " were cut off";
        case Look::lost:
            return place + " were lost with the file";
        case Look::surplus:
            return place + " did not belong to the file";
        default:
            break;
    }
    return fmt::format("{}: {} {} differed", place, text::grouped(change.bytes_changed),
                       change.bytes_changed == 1 ? "byte" : "bytes");
}

void add_change(std::vector<Change>& changes, const Change& next) {
    if (changes.empty() || (!continues(changes.back(), next) && changes.size() < most_changes)) {
        changes.push_back(next);
        return;
    }
    Change& last = changes.back();
    if (!continues(last, next)) last.look = Look::foreign;
    last.length = next.offset + next.length - last.offset;
    last.bytes_changed += next.bytes_changed;
    last.bits_changed += next.bits_changed;
    last.bit.reset();
}

void compare(std::uint64_t offset, std::span<const std::byte> found,
             std::span<const std::byte> right, std::vector<Change>& changes) {
    std::size_t at = 0;
    while (at < found.size()) {
        at = static_cast<std::size_t>(std::mismatch(found.begin() + static_cast<std::ptrdiff_t>(at),
                                                    found.end(),
                                                    right.begin() + static_cast<std::ptrdiff_t>(at))
                                          .first -
                                      found.begin());
        if (at == found.size()) return;
        std::size_t end = at + 1;  // of the last byte known to differ
        for (std::size_t i = end; i < found.size() && i - end < close_together; ++i) {
            if (found[i] != right[i]) end = i + 1;
        }
        add_change(changes, change_of(offset + at, found.subspan(at, end - at),
                                      right.subspan(at, end - at)));
        at = end;
    }
}

}  // namespace glassine::recovery

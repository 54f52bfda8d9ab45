#include "glassine/recovery/check.h"

#include "support/temp_folder.h"

#include <random>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::recovery;

namespace {

std::span<const std::byte> bytes_of(std::string_view text) {
    return std::as_bytes(std::span(text.data(), text.size()));
}

/// CRC-64/XZ bit by bit: polynomial of ECMA-182 reflected, register and result inverted.
Check plain_check(std::string_view text) {
    Check crc = ~Check{0};
    for (const char c : text) {
        crc ^= static_cast<unsigned char>(c);
        for (int bit = 0; bit < 8; ++bit)
            crc = (crc >> 1) ^ ((crc & 1) != 0 ? 0xc96c5795d7870f42 : 0);
    }
    return ~crc;
}

}  // namespace

TEST_CASE("the check value is CRC-64/XZ") {
    // The check value of the .xz file format's CRC64 for "123456789" (from memory; computed again
    // bit by bit here).
    CHECK(check_of(bytes_of("123456789")) == 0x995dc9bbdf1939fa);
    CHECK(check_of({}) == 0);
    for (unsigned length = 0; length < 400; ++length) {
        const std::string text = test::noise(length, length);
        CHECK(check_of(bytes_of(text)) == plain_check(text));
    }
}

TEST_CASE("a check value goes on from piece to piece") {
    const std::string text = test::noise(1000, 7);
    for (const std::size_t cut : {0u, 1u, 16u, 500u, 999u, 1000u}) {
        const Check first = check_of(bytes_of(text).first(cut));
        CHECK(check_more(first, bytes_of(text).subspan(cut)) == check_of(bytes_of(text)));
    }
}

TEST_CASE("a single flipped bit is found from the check values alone") {
    std::mt19937 random(64);
    for (const std::size_t length : {1u, 2u, 63u, 64u, 100u, 16384u}) {
        const std::string right = test::noise(length, 3);
        const Check was = check_of(bytes_of(right));
        for (int trial = 0; trial < 20; ++trial) {
            std::string wrong = right;
            const std::size_t bit = random() % (8 * length);
            wrong[bit / 8] = static_cast<char>(wrong[bit / 8] ^ (1 << (bit % 8)));
            CHECK(single_flipped_bit(was, check_of(bytes_of(wrong)), length) == bit);
        }
        CHECK_FALSE(single_flipped_bit(was, was, length));
    }
    std::string wrong = test::noise(16384, 3);
    const Check was = check_of(bytes_of(wrong));
    wrong[100] = static_cast<char>(wrong[100] ^ 3);
    CHECK_FALSE(single_flipped_bit(was, check_of(bytes_of(wrong)), wrong.size()));
}

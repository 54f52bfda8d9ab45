#include "glassine/recovery/code.h"

#include "glassine/digest/digest.h"

#include <array>
#include <numeric>
#include <random>

#include <catch2/catch.hpp>
#include <isa-l/erasure_code.h>

using namespace glassine;
using namespace glassine::recovery;

namespace {

using Bytes = std::vector<std::uint8_t>;

/// GF(2^8) by logarithms, written down from RFC 5510 §8.1 without looking at the code under test.
struct PlainField {
    std::array<unsigned, 256> log{};
    std::array<std::uint8_t, 510> exp{};
    PlainField() {
        unsigned value = 1;
        for (unsigned i = 0; i < 255; ++i) {
            exp[i] = exp[i + 255] = static_cast<std::uint8_t>(value);
            log[value] = i;
            value = (value << 1) ^ ((value & 0x80) != 0 ? 0x11d : 0);
        }
    }
    std::uint8_t times(unsigned a, unsigned b) const {
        return a == 0 || b == 0 ? std::uint8_t{0} : exp[log[a] + log[b]];
    }
};

Bytes column(const Code& code, unsigned repair) {
    Bytes elements(code.k());
    for (unsigned i = 0; i < code.k(); ++i)
        elements[i] = code.coefficient(i, repair);
    return elements;
}

std::string sha256_of_repair_columns(unsigned k, unsigned n) {
    const Code code(k, n - k);
    std::string all;
    for (unsigned r = 0; r < n - k; ++r) {
        const Bytes elements = column(code, r);
        all.append(elements.begin(), elements.end());
    }
    return digest::digest_of(digest::Algorithm::sha256, all).hex();
}

/// The repair symbols of these source symbols.
std::vector<Bytes> encode(const Code& code, const std::vector<Bytes>& source, std::size_t length) {
    std::vector<Bytes> repair(code.m(), Bytes(length));
    std::vector<Symbol> symbols;
    for (auto& symbol : repair)
        symbols.push_back(symbol.data());
    for (unsigned i = 0; i < source.size(); ++i)
        code.add(i, std::as_bytes(std::span(source[i])), symbols);
    return repair;
}

std::vector<Bytes> random_symbols(unsigned k, std::size_t length, std::mt19937& random) {
    std::vector<Bytes> source(k, Bytes(length));
    for (auto& symbol : source) {
        for (auto& byte : symbol)
            byte = static_cast<std::uint8_t>(random());
    }
    return source;
}

/// Loses the symbols, rebuilds them from the first repair rows given, and compares.
void check_rebuilding(const Code& code, const std::vector<Bytes>& source,
                      const std::vector<unsigned>& lost, const std::vector<unsigned>& rows) {
    const std::size_t length = source[0].size();
    const auto repair = encode(code, source, length);
    std::vector<Bytes> sums;
    for (const auto row : rows)
        sums.push_back(repair[row]);
    std::vector<Symbol> symbols;
    for (auto& sum : sums)
        symbols.push_back(sum.data());
    for (unsigned i = 0; i < source.size(); ++i) {
        if (std::find(lost.begin(), lost.end(), i) != lost.end()) continue;
        code.add_to(rows, i, std::as_bytes(std::span(source[i])), symbols);
    }
    code.solve(lost, rows, symbols, length);
    for (std::size_t i = 0; i < lost.size(); ++i)
        REQUIRE(sums[i] == source[lost[i]]);
}

}  // namespace

TEST_CASE("the field is that of RFC 5510") {
    // RFC 5510 §8.1: polynomial 0x11D, alpha = 2. The values were computed by bitwise
    // multiplication.
    CHECK(field::multiply(0x80, 0x02) == 0x1d);
    CHECK(field::multiply(0x53, 0xca) == 0x8f);  // 01 would betray the polynomial of AES
    CHECK(field::multiply(0xff, 0xff) == 0xe2);
    CHECK(field::multiply(0xb6, 0x53) == 0xee);
    CHECK(field::multiply(0x57, 0x83) == 0x31);
    CHECK(field::inverse(0x02) == 0x8e);
    CHECK(field::inverse(0x03) == 0xf4);
    CHECK(field::inverse(0x53) == 0x8c);
    CHECK(field::inverse(0x80) == 0x1b);
    CHECK(field::inverse(0xff) == 0xfd);
    const Bytes first{0x01, 0x02, 0x04, 0x08, 0x10, 0x20, 0x40, 0x80, 0x1d, 0x3a, 0x74,
                      0xe8, 0xcd, 0x87, 0x13, 0x26, 0x4c, 0x98, 0x2d, 0x5a, 0xb4, 0x75,
                      0xea, 0xc9, 0x8f, 0x03, 0x06, 0x0c, 0x18, 0x30, 0x60, 0xc0};
    for (unsigned i = 0; i < first.size(); ++i)
        CHECK(field::power(i) == first[i]);
    const Bytes last{0x2c, 0x58, 0xb0, 0x7d, 0xfa, 0xe9, 0xcf, 0x83,
                     0x1b, 0x36, 0x6c, 0xd8, 0xad, 0x47, 0x8e};
    for (unsigned i = 0; i < last.size(); ++i)
        CHECK(field::power(240 + i) == last[i]);
    CHECK(field::power(255) == 1);
}

TEST_CASE("ISA-L multiplies as a plain table of logarithms does") {
    const PlainField plain;
    bool equal = true;
    for (unsigned a = 0; a < 256; ++a) {
        for (unsigned b = 0; b < 256; ++b) {
            equal = equal && field::multiply(static_cast<std::uint8_t>(a),
                                             static_cast<std::uint8_t>(b)) == plain.times(a, b);
        }
        if (a > 0)
            equal = equal && plain.times(a, field::inverse(static_cast<std::uint8_t>(a))) == 1;
    }
    CHECK(equal);
    // Logarithms of 1..16, RFC 5510 §8.1 by an independent script.
    const std::array<unsigned, 16> logs{0,   1,  25,  2,  50,  26,  198, 3,
                                        223, 51, 238, 27, 104, 199, 75,  4};
    for (unsigned i = 0; i < 16; ++i)
        CHECK(plain.log[i + 1] == logs[i]);
}

TEST_CASE("the generator matrix is that of RFC 5510") {
    // RFC 5510 §8.2.1, GM = V_{k,k}^-1 * V_{k,n}; columns computed by an independent script.
    CHECK(column(Code(1, 2), 0) == Bytes{0x01});
    CHECK(column(Code(1, 2), 1) == Bytes{0x01});
    CHECK(column(Code(2, 2), 0) == Bytes{0x02, 0x03});
    CHECK(column(Code(2, 2), 1) == Bytes{0x06, 0x07});
    CHECK(column(Code(3, 2), 0) == Bytes{0x08, 0x0e, 0x07});
    CHECK(column(Code(3, 2), 1) == Bytes{0x38, 0x22, 0x1b});
    CHECK(column(Code(4, 2), 0) == Bytes{0x40, 0x78, 0x36, 0x0f});
    CHECK(column(Code(4, 2), 1) == Bytes{0xe7, 0xd2, 0x57, 0x63});
    CHECK(column(Code(10, 4), 0) ==
          Bytes{0xc1, 0x9d, 0x71, 0x5f, 0x5e, 0xc7, 0x6f, 0x9f, 0xc2, 0xd8});
    CHECK(column(Code(10, 4), 1) ==
          Bytes{0xd4, 0xd9, 0x42, 0xc8, 0x3e, 0x60, 0x7d, 0xda, 0x3e, 0x41});
    CHECK(column(Code(10, 4), 2) ==
          Bytes{0xcb, 0xdd, 0xb9, 0x43, 0x88, 0x6e, 0xcd, 0xf6, 0xd2, 0xe2});
    CHECK(column(Code(10, 4), 3) ==
          Bytes{0x84, 0x07, 0x8a, 0xca, 0xd2, 0x7a, 0x8a, 0xd8, 0x49, 0x71});
    CHECK(column(Code(20, 4), 0) == Bytes{0xae, 0xa5, 0x79, 0x79, 0xc6, 0xe4, 0x16,
                                          0xbb, 0x24, 0x45, 0x96, 0x70, 0xdc, 0x06,
                                          0x63, 0x6f, 0x05, 0xf0, 0xb9, 0x98});
    CHECK(sha256_of_repair_columns(20, 24) ==
          "adec8a274671f54dac5eab25f731865d57b015b48e82aaf4f4ceea7c364d254c");
    CHECK(sha256_of_repair_columns(223, 255) ==
          "be7752d9723baa227aee4eaf68284ea64fbf797901fb539c88af585b3670ed37");
}

TEST_CASE("the generator matrix is what inverting the Vandermonde matrix gives") {
    // RFC 5510 §8.2.1 by the letter: V_{k,k} inverted with ISA-L, times the columns from k on.
    for (const auto& [k, m] :
         {std::pair{5u, 7u}, {50u, 10u}, {100u, 20u}, {241u, 12u}, {254u, 1u}, {64u, 32u}}) {
        Bytes v(std::size_t{k} * k), inverse(std::size_t{k} * k);
        for (unsigned i = 0; i < k; ++i) {
            for (unsigned j = 0; j < k; ++j)
                v[std::size_t{i} * k + j] = field::power(i * j);
        }
        REQUIRE(gf_invert_matrix(v.data(), inverse.data(), static_cast<int>(k)) == 0);
        const Code code(k, m);
        bool equal = true;
        for (unsigned r = 0; r < m; ++r) {
            for (unsigned i = 0; i < k; ++i) {
                std::uint8_t sum = 0;
                for (unsigned t = 0; t < k; ++t) {
                    sum ^=
                        field::multiply(inverse[std::size_t{i} * k + t], field::power(t * (k + r)));
                }
                equal = equal && sum == code.coefficient(i, r);
            }
        }
        CHECK(equal);
    }
}

TEST_CASE("encoding gives the published example's bytes") {
    // Worked example for k = 4, n = 6, computed by an independent script from RFC 5510 §8.2.1.
    const std::vector<Bytes> source{{0x01, 0x02, 0x03, 0x04, 0x05, 0x06, 0x07, 0x08},
                                    {0x10, 0x20, 0x30, 0x40, 0x50, 0x60, 0x70, 0x80},
                                    {0x50, 0x48, 0x4f, 0x54, 0x4f, 0x4a, 0x4f, 0x42},
                                    {0xff, 0x00, 0xfe, 0x01, 0xfd, 0x02, 0xfc, 0x03}};
    const auto repair = encode(Code(4, 2), source, 8);
    CHECK(repair[0] == Bytes{0xb9, 0x97, 0xe5, 0xe7, 0xb9, 0x93, 0x8d, 0x90});
    CHECK(repair[1] == Bytes{0x80, 0x6a, 0x4c, 0x5a, 0x60, 0x07, 0x8f, 0x65});

    // A short last symbol counts as padded with zeros (RFC 5510 §8.4) without being padded here.
    const auto shorter = encode(Code(3, 2), {{1, 2, 3}, {4, 5, 6}, {7, 8}}, 3);
    CHECK(shorter[0] == Bytes{0x25, 0x1e, 0x3c});
    CHECK(shorter[1] == Bytes{0xf1, 0x02, 0x84});

    // k = 223, n = 255, one byte a symbol, s_i = i.
    std::vector<Bytes> counting;
    for (unsigned i = 0; i < 223; ++i)
        counting.push_back({static_cast<std::uint8_t>(i)});
    std::string bytes;
    for (const auto& symbol : encode(Code(223, 32), counting, 1))
        bytes.push_back(static_cast<char>(symbol[0]));
    CHECK(digest::Value(std::as_bytes(std::span(bytes))).hex() ==
          "9c04c041d1ce5905b434daf6e5465f92d14ef9c2e2016cc2bbf0773a018bc2aa");
}

TEST_CASE("every choice of symbols of the published example gives the rest back") {
    const std::vector<Bytes> source{
        {0x01, 0x02, 0x03}, {0x10, 0x20, 0x30}, {0x50, 0x48, 0x4f}, {0xff, 0x00, 0xfe}};
    const Code code(4, 2);
    for (unsigned a = 0; a < 4; ++a) {
        check_rebuilding(code, source, {a}, {0});
        check_rebuilding(code, source, {a}, {1});
        for (unsigned b = a + 1; b < 4; ++b)
            check_rebuilding(code, source, {a, b}, {0, 1});
    }
}

TEST_CASE("ISA-L's kernels agree with bytewise arithmetic at any shape and length") {
    const PlainField plain;
    std::mt19937 random(5510);
    for (int trial = 0; trial < 60; ++trial) {
        const unsigned m = 1 + random() % 40;
        const unsigned k = 1 + random() % (255 - m);
        const std::size_t length = 1 + random() % 300;
        const Code code(k, m);
        const auto source = random_symbols(k, length, random);
        const auto repair = encode(code, source, length);
        bool equal = true;
        for (unsigned r = 0; r < m; ++r) {
            for (std::size_t u = 0; u < length; ++u) {
                std::uint8_t sum = 0;
                for (unsigned i = 0; i < k; ++i)
                    sum ^= plain.times(code.coefficient(i, r), source[i][u]);
                equal = equal && sum == repair[r][u];
            }
        }
        CHECK(equal);
    }
}

TEST_CASE("any k symbols give all back, at random shapes") {
    std::mt19937 random(2009);
    for (int trial = 0; trial < 60; ++trial) {
        const unsigned m = 1 + random() % 32;
        const unsigned k = 1 + random() % (255 - m);
        const Code code(k, m);
        const auto source = random_symbols(k, 1 + random() % 200, random);
        std::vector<unsigned> symbols(k), rows(m);
        std::iota(symbols.begin(), symbols.end(), 0);
        std::iota(rows.begin(), rows.end(), 0);
        std::shuffle(symbols.begin(), symbols.end(), random);
        std::shuffle(rows.begin(), rows.end(), random);
        const std::size_t lost = random() % (std::min(k, m) + 1);
        symbols.resize(lost);
        rows.resize(lost);
        check_rebuilding(code, source, symbols, rows);
    }
}

#include "glassine/recovery/code.h"

#include <array>
#include <cassert>
#include <cstring>

#include <isa-l/erasure_code.h>

namespace glassine::recovery {

namespace {

constexpr std::size_t coefficient_size = 32;  ///< bytes that ISA-L keeps for one coefficient
constexpr unsigned order = 255;               ///< of alpha

using field::inverse;
using field::multiply;

std::array<std::uint8_t, order> powers_of_alpha() {
    std::array<std::uint8_t, order> powers{};
    std::uint8_t value = 1;
    for (auto& power : powers) {
        power = value;
        value = multiply(value, 2);
    }
    return powers;
}

/// The product of (x + alpha^t) over all t < k for which the sum is not zero.
std::uint8_t product_of_distances(std::uint8_t x, unsigned k) {
    std::uint8_t product = 1;
    for (unsigned t = 0; t < k; ++t) {
        const std::uint8_t distance = x ^ field::power(t);
        if (distance != 0) product = multiply(product, distance);
    }
    return product;
}

/// V^-1 * V without an inversion: symbol j is the value at alpha^j of the polynomial of degree < k
/// that takes the value of source symbol t at alpha^t, so the coefficients are those of Lagrange's
/// interpolation.
std::vector<std::uint8_t> generator_columns(unsigned k, unsigned m) {
    std::vector<std::uint8_t> rows(std::size_t{k} * m), above(m);
    for (unsigned r = 0; r < m; ++r)
        above[r] = product_of_distances(field::power(k + r), k);
    for (unsigned i = 0; i < k; ++i) {
        const std::uint8_t own = product_of_distances(field::power(i), k);
        for (unsigned r = 0; r < m; ++r) {
            const std::uint8_t between = field::power(k + r) ^ field::power(i);
            rows[std::size_t{r} * k + i] = multiply(above[r], inverse(multiply(own, between)));
        }
    }
    return rows;
}

unsigned char* plain(std::span<const std::byte> bytes) {
    // ISA-L takes its sources as pointers to non-const and does not write through them.
    return const_cast<unsigned char*>(reinterpret_cast<const unsigned char*>(bytes.data()));
}

}  // namespace

namespace field {

std::uint8_t multiply(std::uint8_t a, std::uint8_t b) {
    return gf_mul(a, b);
}

std::uint8_t inverse(std::uint8_t a) {
    assert(a != 0);
    return gf_inv(a);
}

std::uint8_t power(unsigned exponent) {
    static const auto powers = powers_of_alpha();
    return powers[exponent % order];
}

}  // namespace field

Code::Code(unsigned k, unsigned m) : k_(k), m_(m) {
    assert(k >= 1 && m >= 1 && k + m <= most_symbols);
    coefficients_ = generator_columns(k, m);
    tables_.resize(coefficients_.size() * coefficient_size);
    ec_init_tables(static_cast<int>(k), static_cast<int>(m), coefficients_.data(), tables_.data());
}

std::uint8_t Code::coefficient(unsigned source, unsigned repair) const {
    assert(source < k_ && repair < m_);
    return coefficients_[std::size_t{repair} * k_ + source];
}

void Code::add(unsigned source, std::span<const std::byte> symbol,
               std::span<const Symbol> repair) const {
    assert(source < k_ && repair.size() == m_);
    ec_encode_data_update(static_cast<int>(symbol.size()), static_cast<int>(k_),
                          static_cast<int>(m_), static_cast<int>(source),
                          const_cast<unsigned char*>(tables_.data()), plain(symbol),
                          const_cast<Symbol*>(repair.data()));
}

void Code::add_to(std::span<const unsigned> rows, unsigned source,
                  std::span<const std::byte> symbol, std::span<const Symbol> into) const {
    assert(source < k_ && rows.size() == into.size() && rows.size() <= m_);
    std::array<unsigned char, most_symbols * coefficient_size> tables;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const std::size_t entry = std::size_t{rows[i]} * k_ + source;
        std::memcpy(tables.data() + i * coefficient_size, tables_.data() + entry * coefficient_size,
                    coefficient_size);
    }
    ec_encode_data_update(static_cast<int>(symbol.size()), 1, static_cast<int>(rows.size()), 0,
                          tables.data(), plain(symbol), const_cast<Symbol*>(into.data()));
}

// With the known symbols moved to one side, what is left of the k equations is a square system in
// the lost symbols alone. Its matrix is a part of GM; the code is MDS (RFC 5510 §8.2.1), so it can
// always be inverted.
void Code::solve(std::span<const unsigned> lost, std::span<const unsigned> rows,
                 std::span<const Symbol> sums, std::size_t length) const {
    assert(lost.size() == rows.size() && rows.size() == sums.size() && lost.size() <= m_);
    const std::size_t n = lost.size();
    if (n == 0) return;
    std::vector<unsigned char> matrix(n * n), inverted(n * n), tables(n * n * coefficient_size),
        result(n * length);
    for (std::size_t row = 0; row < n; ++row) {
        for (std::size_t column = 0; column < n; ++column) {
            matrix[row * n + column] = coefficient(lost[column], rows[row]);
        }
    }
    [[maybe_unused]] const int singular =
        gf_invert_matrix(matrix.data(), inverted.data(), static_cast<int>(n));
    assert(singular == 0);
    ec_init_tables(static_cast<int>(n), static_cast<int>(n), inverted.data(), tables.data());
    std::vector<Symbol> results(n);
    for (std::size_t i = 0; i < n; ++i)
        results[i] = result.data() + i * length;
    ec_encode_data(static_cast<int>(length), static_cast<int>(n), static_cast<int>(n),
                   tables.data(), const_cast<Symbol*>(sums.data()), results.data());
    for (std::size_t i = 0; i < n; ++i)
        std::memcpy(sums[i], results[i], length);
}

}  // namespace glassine::recovery

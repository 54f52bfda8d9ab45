#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

/// The erasure code of RFC 5510 over GF(2^8) (FEC Encoding ID 5), on the kernels of ISA-L.
namespace glassine::recovery {

/// Arithmetic in GF(2^8) modulo x^8 + x^4 + x^3 + x^2 + 1 (RFC 5510 §8.1). Addition is XOR.
namespace field {
std::uint8_t multiply(std::uint8_t a, std::uint8_t b);
std::uint8_t inverse(std::uint8_t a);  ///< of a != 0
/// alpha^exponent, alpha = 2.
std::uint8_t power(unsigned exponent);
}  // namespace field

/// A symbol's bytes that are written to, e.g. a repair symbol being accumulated.
using Symbol = unsigned char*;

/// The systematic code with k source symbols and m repair symbols, k >= 1, m >= 1, k + m <= 255:
/// any k of the k + m symbols give back all k. Immutable; may be used from several threads at once.
class Code {
  public:
    static constexpr unsigned most_symbols = 255;

    Code(unsigned k, unsigned m);

    unsigned k() const { return k_; }
    unsigned m() const { return m_; }

    /// Element (source, k + repair) of the generator matrix GM = V_{k,k}^-1 * V_{k,n} (RFC 5510
    /// §8.2.1).
    std::uint8_t coefficient(unsigned source, unsigned repair) const;

    /// Adds what one source symbol contributes to all m repair symbols. All symbols have the length
    /// of `symbol`.
    void add(unsigned source, std::span<const std::byte> symbol,
             std::span<const Symbol> repair) const;

    /// Adds what one source symbol contributes to chosen repair symbols: `into[i]` is repair symbol
    /// `rows[i]`.
    void add_to(std::span<const unsigned> rows, unsigned source, std::span<const std::byte> symbol,
                std::span<const Symbol> into) const;

    /// Finds the lost source symbols. `sums[i]` holds repair symbol `rows[i]` plus the
    /// contributions of every source symbol that is not lost; afterwards it holds source symbol
    /// `lost[i]`. As many rows as lost symbols.
    void solve(std::span<const unsigned> lost, std::span<const unsigned> rows,
               std::span<const Symbol> sums, std::size_t length) const;

  private:
    unsigned k_;
    unsigned m_;
    std::vector<std::uint8_t> coefficients_;  ///< m rows of k
    std::vector<std::uint8_t> tables_;  ///< 32 bytes a coefficient, as ISA-L's kernels take them
};

}  // namespace glassine::recovery

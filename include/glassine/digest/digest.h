#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// Message digests by the names that BagIt gives them (RFC 8493 §2.4), computed by OpenSSL's EVP.
namespace glassine::digest {

/// The algorithms that Glassine computes. MD5 (RFC 1321) and SHA-1 (RFC 3174) no longer resist
/// forgery and are there for old bags; the SHA-2 family is FIPS 180-4.
enum class Algorithm : std::uint8_t { md5, sha1, sha224, sha256, sha384, sha512 };

inline constexpr std::array all_algorithms{Algorithm::md5,    Algorithm::sha1,   Algorithm::sha224,
                                           Algorithm::sha256, Algorithm::sha384, Algorithm::sha512};
inline constexpr std::size_t largest_size = 64;

/// "sha512": the normalised name of RFC 8493 §2.4.
std::string_view name(Algorithm algorithm);
/// Normalises as RFC 8493 §2.4 says (lower case, everything not alphanumeric dropped: "SHA-512" is
/// sha512) and looks the result up; nothing if Glassine does not compute it.
std::optional<Algorithm> algorithm(std::string_view name);
std::string normalised(std::string_view name);
/// Bytes of a digest.
std::size_t size(Algorithm algorithm);

/// One digest, held by value.
class Value {
  public:
    Value() = default;
    explicit Value(std::span<const std::byte> bytes);
    /// From hex of either case; nothing if it is not hex of a length that a digest can have (1 to
    /// 64 bytes).
    static std::optional<Value> from_hex(std::string_view hex);

    std::span<const std::byte> bytes() const { return {bytes_.data(), size_}; }
    std::string hex() const;  ///< lower case
    bool empty() const { return size_ == 0; }
    bool operator==(const Value& other) const;

  private:
    std::array<std::byte, largest_size> bytes_{};
    std::uint8_t size_ = 0;
};

/// Computes one digest from bytes handed over in pieces. Not shared between threads at the same
/// time.
class Hasher {
  public:
    explicit Hasher(Algorithm algorithm);
    Hasher(Hasher&&) noexcept;
    Hasher& operator=(Hasher&&) noexcept;
    ~Hasher();

    Algorithm algorithm() const { return algorithm_; }
    void update(std::span<const std::byte> bytes);
    /// The digest of all bytes so far; afterwards the hasher starts anew.
    Value finish();

  private:
    struct Context;
    std::unique_ptr<Context> context_;
    Algorithm algorithm_;
};

/// Several digests of the same bytes: each block goes through all of them while it is in the cache.
class HasherSet {
  public:
    explicit HasherSet(std::span<const Algorithm> algorithms);
    void update(std::span<const std::byte> bytes);
    /// In the order in which the algorithms were given.
    std::vector<Value> finish();

  private:
    std::vector<Hasher> hashers_;
};

Value digest_of(Algorithm algorithm, std::span<const std::byte> bytes);
Value digest_of(Algorithm algorithm, std::string_view text);

}  // namespace glassine::digest

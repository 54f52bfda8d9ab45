#include "glassine/digest/digest.h"

#include "glassine/base/error.h"
#include "glassine/base/text.h"

#include <algorithm>
#include <cstring>
#include <new>

#include <openssl/evp.h>

namespace glassine::digest {
namespace {

struct Known {
    Algorithm algorithm;
    std::string_view name;
    std::size_t size;
    const EVP_MD* (*evp)();
};

constexpr std::array<Known, 6> known{{{Algorithm::md5, "md5", 16, EVP_md5},
                                      {Algorithm::sha1, "sha1", 20, EVP_sha1},
                                      {Algorithm::sha224, "sha224", 28, EVP_sha224},
                                      {Algorithm::sha256, "sha256", 32, EVP_sha256},
                                      {Algorithm::sha384, "sha384", 48, EVP_sha384},
                                      {Algorithm::sha512, "sha512", 64, EVP_sha512}}};

const Known& entry(Algorithm algorithm) {
    return known[static_cast<std::size_t>(algorithm)];
}

}  // namespace

std::string_view name(Algorithm algorithm) {
    return entry(algorithm).name;
}
std::size_t size(Algorithm algorithm) {
    return entry(algorithm).size;
}

std::string normalised(std::string_view name) {
    std::string out = text::ascii_lower(name);
    std::erase_if(out, [](char c) { return (c < 'a' || c > 'z') && (c < '0' || c > '9'); });
    return out;
}

std::optional<Algorithm> algorithm(std::string_view name) {
    const auto* at = std::ranges::find(known, normalised(name), &Known::name);
    if (at == known.end()) return std::nullopt;
    return at->algorithm;
}

Value::Value(std::span<const std::byte> bytes)
    : size_(static_cast<std::uint8_t>(std::min(bytes.size(), largest_size))) {
    std::copy_n(bytes.begin(), size_, bytes_.begin());
}

std::optional<Value> Value::from_hex(std::string_view hex) {
    std::vector<std::byte> bytes;
    if (hex.empty() || hex.size() > 2 * largest_size || !text::from_hex(hex, bytes))
        return std::nullopt;
    return Value(bytes);
}

std::string Value::hex() const {
    return text::hex(bytes());
}

bool Value::operator==(const Value& other) const {
    return std::ranges::equal(bytes(), other.bytes());
}

struct Hasher::Context {
    EVP_MD_CTX* evp = EVP_MD_CTX_new();
    Context() {
        if (evp == nullptr) throw std::bad_alloc();
    }
    Context(const Context&) = delete;
    Context& operator=(const Context&) = delete;
    ~Context() { EVP_MD_CTX_free(evp); }
};

namespace {

/// EVP fails only when a provider is missing or forbids the algorithm (a system-wide policy).
void require(int ok, Algorithm algorithm) {
    if (ok == 1) return;
    throw Error(Cause::not_supported, "compute " + std::string(name(algorithm)) + " digests", "",
                "the installed OpenSSL does not offer this algorithm",
                "check the system's OpenSSL settings");
}

}  // namespace

Hasher::Hasher(Algorithm algorithm) : context_(std::make_unique<Context>()), algorithm_(algorithm) {
    require(EVP_DigestInit_ex(context_->evp, entry(algorithm).evp(), nullptr), algorithm);
}
Hasher::Hasher(Hasher&&) noexcept = default;
Hasher& Hasher::operator=(Hasher&&) noexcept = default;
Hasher::~Hasher() = default;

void Hasher::update(std::span<const std::byte> bytes) {
    require(EVP_DigestUpdate(context_->evp, bytes.data(), bytes.size()), algorithm_);
}

Value Hasher::finish() {
    std::array<std::byte, EVP_MAX_MD_SIZE> out{};
    unsigned length = 0;
    require(
        EVP_DigestFinal_ex(context_->evp, reinterpret_cast<unsigned char*>(out.data()), &length),
        algorithm_);
    require(EVP_DigestInit_ex(context_->evp, nullptr, nullptr), algorithm_);
    return Value(std::span(out.data(), length));
}

HasherSet::HasherSet(std::span<const Algorithm> algorithms) {
    hashers_.reserve(algorithms.size());
    for (const Algorithm a : algorithms)
        hashers_.emplace_back(a);
}

void HasherSet::update(std::span<const std::byte> bytes) {
    for (Hasher& h : hashers_)
        h.update(bytes);
}

std::vector<Value> HasherSet::finish() {
    std::vector<Value> values;
    values.reserve(hashers_.size());
    for (Hasher& h : hashers_)
        values.push_back(h.finish());
    return values;
}

Value digest_of(Algorithm algorithm, std::span<const std::byte> bytes) {
    Hasher hasher(algorithm);
    hasher.update(bytes);
    return hasher.finish();
}

Value digest_of(Algorithm algorithm, std::string_view text) {
    return digest_of(algorithm, std::as_bytes(std::span(text.data(), text.size())));
}

}  // namespace glassine::digest

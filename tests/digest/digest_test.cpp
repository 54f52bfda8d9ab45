#include "glassine/digest/digest.h"

#include <array>
#include <string>
#include <string_view>

#include <catch2/catch.hpp>

using namespace glassine::digest;

namespace {

struct Vector {
    std::string_view algorithm;
    std::string_view message;
    std::string_view digest;
};

const std::string m448 = "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq";
const std::string m896 =
    "abcdefghbcdefghicdefghijdefghijkefghijklfghijklmghijklmnhijklmnoijklmnopjklmnopqklmnopqrlmnopq"
    "rsmnopqrstnopqrstu";
const std::string million(1'000'000, 'a');

std::string hex_of(std::string_view algorithm_name, std::string_view message) {
    return digest_of(algorithm(algorithm_name).value(), message).hex();
}

}  // namespace

TEST_CASE("MD5 gives the digests of RFC 1321 appendix A.5") {
    const std::array<std::array<std::string_view, 2>, 7> vectors{{
        {"", "d41d8cd98f00b204e9800998ecf8427e"},
        {"a", "0cc175b9c0f1b6a831c399e269772661"},
        {"abc", "900150983cd24fb0d6963f7d28e17f72"},
        {"message digest", "f96b697d7cb7938d525a2f31aaf161d0"},
        {"abcdefghijklmnopqrstuvwxyz", "c3fcd3d76192e4007dfb496cca67e13b"},
        {"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789",
         "d174ab98d277d9f5a5611c2c9f419d9f"},
        {"12345678901234567890123456789012345678901234567890123456789012345678901234567890",
         "57edf4a22be3c955ac49da2e2107b67a"},
    }};
    for (const auto& [message, digest] : vectors)
        CHECK(hex_of("md5", message) == digest);
}

// Messages of the test drivers of RFC 3174 (SHA-1) and RFC 6234 (SHA-224 to SHA-512); the values of
// FIPS 180-4's published examples.
TEST_CASE("the SHA family gives the published digests") {
    const std::array vectors{
        Vector{"sha1", "abc", "a9993e364706816aba3e25717850c26c9cd0d89d"},
        Vector{"sha1", m448, "84983e441c3bd26ebaae4aa1f95129e5e54670f1"},
        Vector{"sha1", million, "34aa973cd4c4daa4f61eeb2bdbad27316534016f"},
        Vector{"sha224", "abc", "23097d223405d8228642a477bda255b32aadbce4bda0b3f7e36c9da7"},
        Vector{"sha224", m448, "75388b16512776cc5dba5da1fd890150b0c6455cb4f58b1952522525"},
        Vector{"sha224", million, "20794655980c91d8bbb4c1ea97618a4bf03f42581948b2ee4ee7ad67"},
        Vector{"sha256", "abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
        Vector{"sha256", m448, "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
        Vector{"sha256", million,
               "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"},
        Vector{"sha384", "abc",
               "cb00753f45a35e8bb5a03d699ac65007272c32ab0eded1631a8b605a43ff5bed8086072ba1e7cc2358b"
               "aeca134c825a7"},
        Vector{"sha384", m896,
               "09330c33f71147e83d192fc782cd1b4753111b173b3b05d22fa08086e3b0f712fcc7c71a557e2db966c"
               "3e9fa91746039"},
        Vector{"sha384", million,
               "9d0e1809716474cb086e834e310a4a1ced149e9c00f248527972cec5704c2a5b07b8b3dc38ecc4ebae9"
               "7ddd87f3d8985"},
        Vector{"sha512", "",
               "cf83e1357eefb8bdf1542850d66d8007d620e4050b5715dc83f4a921d36ce9ce"
               "47d0d13c5d85f2b0ff8318d2877eec2f63b931bd47417a81a538327af927da3e"},
        Vector{"sha512", "abc",
               "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a"
               "2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f"},
        Vector{"sha512", m896,
               "8e959b75dae313da8cf4f72814fc143f8f7779c6eb9f7fa17299aeadb6889018"
               "501d289e4900f7e4331b99dec4b5433ac7d329eeb6dd26545e96e55b874be909"},
        Vector{"sha512", million,
               "e718483d0ce769644e2e42c7bc15b4638e1f98b13b2044285632a803afa973eb"
               "de0ff244877ea60a4cb0432ce577c31beb009c5c2c49aa2e4eadb217ad8cc09b"},
    };
    for (const Vector& v : vectors)
        CHECK(hex_of(v.algorithm, v.message) == v.digest);
}

TEST_CASE("a digest does not depend on the pieces the bytes come in") {
    for (const Algorithm a : all_algorithms) {
        const Value whole = digest_of(a, million);
        for (const std::size_t step : {1u, 63u, 64u, 65u, 127u, 128u, 129u, 4096u}) {
            Hasher hasher(a);
            for (std::size_t at = 0; at < million.size(); at += step) {
                const std::string_view piece = std::string_view(million).substr(at, step);
                hasher.update(std::as_bytes(std::span(piece)));
            }
            CHECK(hasher.finish() == whole);
        }
    }
}

TEST_CASE("padding borders: the letter a, L times (computed with Python's hashlib)") {
    struct Border {
        std::size_t length;
        std::string_view md5, sha1, sha256, sha512;
    };
    const std::array borders{
        Border{55, "ef1772b6dff9a122", "c1c8bbdc22796e28", "9f4390f8d30c2dd9", "b0220c772cbf6c18"},
        Border{56, "3b0c8ac703f828b0", "c2db330f6083854c", "b35439a4ac6f0948", "962b64aae357d2a4"},
        Border{64, "014842d480b57149", "0098ba824b5c1642", "ffe054fe7ae0cb6d", "01d35c10c6c38c2d"},
        Border{111, "089f243d1e831c58", "ac877859d427d919", "6374f73208854473", "fa9121c7b32b9e01"},
        Border{112, "9146ef3527c7cfcc", "689993727ba37386", "f54353008a255326", "c01d080efd492776"},
        Border{128, "e510683b3f5ffe40", "ad5b3fdbcb526778", "6836cf13bac400e9", "b73d1929aa615934"},
    };
    for (const Border& b : borders) {
        const std::string message(b.length, 'a');
        CHECK(hex_of("md5", message).substr(0, 16) == b.md5);
        CHECK(hex_of("sha1", message).substr(0, 16) == b.sha1);
        CHECK(hex_of("sha256", message).substr(0, 16) == b.sha256);
        CHECK(hex_of("sha512", message).substr(0, 16) == b.sha512);
    }
}

TEST_CASE("several digests of the same bytes at once") {
    HasherSet set(all_algorithms);
    set.update(std::as_bytes(std::span(m448)));
    const auto values = set.finish();
    REQUIRE(values.size() == all_algorithms.size());
    for (std::size_t i = 0; i < values.size(); ++i)
        CHECK(values[i] == digest_of(all_algorithms[i], m448));
}

TEST_CASE("algorithm names are normalised as RFC 8493 section 2.4 says") {
    CHECK(normalised("SHA-512") == "sha512");
    CHECK(normalised("SHA3-256") == "sha3256");
    CHECK(algorithm("SHA-1") == Algorithm::sha1);
    CHECK(algorithm("Md5") == Algorithm::md5);
    CHECK_FALSE(algorithm("blake2b512"));
    for (const Algorithm a : all_algorithms)
        CHECK(algorithm(name(a)) == a);
}

TEST_CASE("digests read from hex in either case, and only from hex") {
    const Value value = digest_of(Algorithm::md5, "abc");
    CHECK(Value::from_hex("900150983CD24fb0d6963f7d28e17f72") == value);
    CHECK_FALSE(Value::from_hex(""));
    CHECK_FALSE(Value::from_hex("90g0"));
    CHECK_FALSE(Value::from_hex("900"));
    CHECK_FALSE(Value::from_hex(std::string(130, 'a')));
}

#include "glassine/base/text.h"

#include <cmath>
#include <cstddef>
#include <limits>
#include <span>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

using namespace glassine;

TEST_CASE("sizes as people read them") {
    CHECK(text::human_bytes(0) == "0 bytes");
    CHECK(text::human_bytes(1) == "1 byte");
    CHECK(text::human_bytes(999) == "999 bytes");
    CHECK(text::human_bytes(1000) == "1 kB");
    CHECK(text::human_bytes(999'499) == "999 kB");
    CHECK(text::human_bytes(999'500) == "1.0 MB");
    CHECK(text::human_bytes(999'999) == "1.0 MB");
    CHECK(text::human_bytes(999'940'000) == "999.9 MB");
    CHECK(text::human_bytes(999'950'000) == "1.0 GB");
    CHECK(text::human_bytes(38'200'000'000) == "38.2 GB");
    CHECK(text::human_bytes(4'000'787'030'016) == "4.0 TB");
    CHECK(text::human_bytes(std::numeric_limits<std::uint64_t>::max()) == "18446.7 PB");
}

TEST_CASE("numbers, counts and lengths of time as people read them") {
    CHECK(text::grouped(0) == "0");
    CHECK(text::grouped(999) == "999");
    CHECK(text::grouped(1000) == "1,000");
    CHECK(text::grouped(1'234'567) == "1,234,567");
    CHECK(text::counted(1, "original") == "1 original");
    CHECK(text::counted(0, "original") == "0 originals");
    CHECK(text::counted(4120, "original") == "4,120 originals");
    CHECK(text::counted(2, "copy", "copies") == "2 copies");
    CHECK(text::human_duration(-1) == "0 s");
    CHECK(text::human_duration(12.4) == "12 s");
    CHECK(text::human_duration(59.6) == "1 min 00 s");
    CHECK(text::human_duration(200) == "3 min 20 s");
    CHECK(text::human_duration(3900) == "1 h 05 min");
    CHECK(text::human_duration(std::nan("")) == "0 s");
    CHECK(text::human_duration(std::numeric_limits<double>::infinity()).ends_with("min"));
}

TEST_CASE("ASCII without locales") {
    CHECK(text::ascii_lower("SHA-512 Ä") == "sha-512 Ä");
    CHECK(text::equal_ignoring_ascii_case("Bag-Size", "bag-sIZE"));
    CHECK_FALSE(text::equal_ignoring_ascii_case("Bag-Size", "Bag_Size"));
    CHECK_FALSE(text::equal_ignoring_ascii_case("a", "ab"));
    CHECK(text::trim(" \t a b\t ") == "a b");
    CHECK(text::trim(" \t").empty());
    CHECK(text::trim("a\n") == "a\n");
    CHECK(text::is_ascii("\x7F"));
    CHECK_FALSE(text::is_ascii("\x80"));
}

TEST_CASE("hex both ways") {
    // RFC 4648 §10, the base16 vector of "foobar".
    const std::string word = "foobar";
    std::vector<std::byte> bytes;
    CHECK(text::hex(std::as_bytes(std::span(word))) == "666f6f626172");
    REQUIRE(text::from_hex("666F6f626172", bytes));
    CHECK(text::hex(bytes) == "666f6f626172");
    CHECK(text::from_hex("", bytes));
    CHECK(bytes.empty());
    for (const char* bad : {"6", "6g", "0x", "66 6", "-1"})
        CHECK_FALSE(text::from_hex(bad, bytes));
}

TEST_CASE("the known word that was probably meant") {
    const std::vector<std::string> known{"closeout", "inspect", "audit"};
    CHECK(text::nearest("colseout", known) == "closeout");
    CHECK(text::nearest("adit", known) == "audit");
    CHECK(text::nearest("inspekt", known) == "inspect");
    CHECK(text::nearest("audit", known) == "audit");
    CHECK(text::nearest("audit", {}).empty());
}

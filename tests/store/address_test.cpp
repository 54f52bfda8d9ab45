#include "glassine/store/address.h"

#include "glassine/base/error.h"

#include <catch2/catch.hpp>

namespace glassine::store {

TEST_CASE("an address has a bucket and a key") {
    CHECK(parse_address("s3://attic-two") == Address{"attic-two", ""});
    CHECK(parse_address("s3:/attic-two/") == Address{"attic-two", ""});
    CHECK(parse_address("s3://attic-two//jobs/2025 + å/") == Address{"attic-two", "jobs/2025 + å"});
    CHECK(Address{"attic-two", "jobs/a b"}.text() == "s3://attic-two/jobs/a b");
    CHECK(Address{"attic-two", ""}.below("x") == Address{"attic-two", "x"});
    CHECK(Address{"attic-two", "jobs"}.below("x/y") == Address{"attic-two", "jobs/x/y"});
}

TEST_CASE("what is no address is not taken for one") {
    CHECK(is_address("s3://attic-two"));
    CHECK_FALSE(is_address("/mnt/s3://attic-two"));
    CHECK_FALSE(is_address("s3"));
    for (const char* wrong : {"s3://", "s3:///", "s3://ab", "s3://Attic/jobs", "s3://a..b/jobs",
                              "s3://-attic", "s3://attic./x", "attic-two"})
        CHECK_THROWS_AS(parse_address(wrong), Error);
}

}  // namespace glassine::store

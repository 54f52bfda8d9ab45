#include "glassine/base/time.h"

#include <cstdint>
#include <cstdlib>
#include <limits>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

using namespace glassine;

namespace {

constexpr std::int64_t second = 1'000'000'000;

std::int64_t nanoseconds_of(std::string_view text) {
    const auto moment = parse_rfc3339(text);
    INFO(text);
    REQUIRE(moment);
    return moment->nanoseconds;
}

/// Sets the local time zone for a scope.
class Zone {
  public:
    explicit Zone(const char* name) {
        ::setenv("TZ", name, 1);
        ::tzset();
    }
    Zone(const Zone&) = delete;
    Zone& operator=(const Zone&) = delete;
    ~Zone() {
        ::unsetenv("TZ");
        ::tzset();
    }
};

}  // namespace

TEST_CASE("the examples of RFC 3339 §5.8") {
    // The moments by `date -u -d TEXT +%s` of coreutils.
    CHECK(nanoseconds_of("1985-04-12T23:20:50.52Z") == 482'196'050 * second + 520'000'000);
    CHECK(nanoseconds_of("1996-12-19T16:39:57-08:00") == 851'042'397 * second);
    CHECK(nanoseconds_of("1996-12-20T00:39:57Z") == 851'042'397 * second);
    // Leap seconds: the first moment of 1991.
    CHECK(nanoseconds_of("1990-12-31T23:59:60Z") == 662'688'000 * second);
    CHECK(nanoseconds_of("1990-12-31T15:59:60-08:00") == 662'688'000 * second);
    CHECK(nanoseconds_of("1937-01-01T12:00:27.87+00:20") == -1'041'337'173 * second + 870'000'000);
}

TEST_CASE("what RFC 3339 lets differ, and what it does not") {
    // §5.6: t and z in lower case; a space between date and time. §4.3: the offset -00:00.
    CHECK(nanoseconds_of("1996-12-20t00:39:57z") == 851'042'397 * second);
    CHECK(nanoseconds_of("1996-12-20 00:39:57Z") == 851'042'397 * second);
    CHECK(nanoseconds_of("1996-12-20T00:39:57-00:00") == 851'042'397 * second);
    CHECK(nanoseconds_of("1970-01-01T00:00:00.1234567899Z") == 123'456'789);
    for (const char* bad :
         {"", "1996-12-20", "1996-12-20T00:39:57", "1996-12-20T00:39Z", "1996-12-20T00:39:57.Z",
          "1996-12-20T24:00:00Z", "1996-12-20T00:60:00Z", "1996-12-20T00:00:61Z",
          "1996-12-20T12:30:60Z", "1996-12-20T23:59:60Z", "1996-02-30T00:00:00Z",
          "1996-12-20T00:39:57+0100", "1996-12-20T00:39:57+1:00", "1996-12-20T00:39:57+24:00",
          "1996-12-20T00:39:57Z ", "1996-12-20T00:39:57ZZ", "1996-12-20T0a:39:57Z",
          "+996-12-20T00:39:57Z", "1996-12-20X00:39:57Z"}) {
        INFO(bad);
        CHECK_FALSE(parse_rfc3339(bad));
    }
}

TEST_CASE("moments too far off for a timestamp are refused, not wrapped around") {
    for (const char* far : {"0000-01-01T00:00:00Z", "1600-01-01T00:00:00Z", "2263-01-01T00:00:00Z",
                            "9999-12-31T23:59:59Z"}) {
        INFO(far);
        CHECK_FALSE(parse_rfc3339(far));
    }
    CHECK(parse_rfc3339("1678-01-01T00:00:00Z"));
    CHECK(parse_rfc3339("2261-12-31T23:59:59.999999999Z"));
    CHECK(rfc3339({std::numeric_limits<std::int64_t>::max()}) == "2262-04-11T23:47:16Z");
    CHECK(rfc3339({std::numeric_limits<std::int64_t>::min()}) == "1677-09-21T00:12:43Z");
}

TEST_CASE("moments are written in UTC, in whole seconds, rounded down") {
    CHECK(rfc3339({0}) == "1970-01-01T00:00:00Z");
    CHECK(rfc3339({851'042'397 * second + 999'999'999}) == "1996-12-20T00:39:57Z");
    CHECK(rfc3339({-1}) == "1969-12-31T23:59:59Z");
    for (const char* text :
         {"2025-09-06T14:03:22Z", "2000-02-29T23:59:59Z", "1901-03-01T00:00:00Z"})
        CHECK(rfc3339({nanoseconds_of(text)}) == text);
}

TEST_CASE("only days that exist are dates") {
    // Leap years: RFC 3339, appendix C.
    for (const char* day : {"2024-02-29", "2000-02-29", "1600-02-29", "2025-12-31", "0001-01-01"}) {
        INFO(day);
        const auto date = parse_date(day);
        REQUIRE(date);
        CHECK(iso_date(*date) == day);
    }
    for (const char* bad :
         {"2023-02-29", "1900-02-29", "2100-02-29", "2025-04-31", "2025-00-10", "2025-13-01",
          "2025-01-00", "2025-01-32", "2025-1-01", "2025-01-1", "25-01-01", "2025/01/01",
          "20250101", "2025-01-01 ", " 2025-01-01", "2025-01-0x", "-025-01-01", ""}) {
        INFO(bad);
        CHECK_FALSE(parse_date(bad));
    }
}

TEST_CASE("the day of a moment, in UTC and where the computer stands") {
    const Timestamp moment{nanoseconds_of("2024-02-29T22:30:00Z")};
    CHECK(iso_date(utc_date(moment)) == "2024-02-29");
    CHECK(iso_date(utc_date({-1})) == "1969-12-31");
    // POSIX.1-2017 §8.3: TZ names the hours to add to local time to get UTC.
    {
        const Zone east("EAST-02");
        CHECK(iso_date(local_date(moment)) == "2024-03-01");
    }
    {
        const Zone west("WEST+23");
        CHECK(iso_date(local_date(moment)) == "2024-02-28");
    }
}

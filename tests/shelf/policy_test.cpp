#include "glassine/shelf/policy.h"

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::shelf;

namespace {

std::string moved(const char* day, Period period) {
    return iso_date(later(*parse_date(day), period));
}

}  // namespace

TEST_CASE("months are counted on the calendar") {
    // Gregorian calendar: leap years by the rules of ISO 8601; the last day of a month where the
    // day does not exist: common practice, no source.
    CHECK(moved("2024-02-29", {12, 0}) == "2025-02-28");
    CHECK(moved("2024-02-29", {48, 0}) == "2028-02-29");
    CHECK(moved("2023-02-28", {12, 0}) == "2024-02-28");
    CHECK(moved("2025-01-31", {1, 0}) == "2025-02-28");
    CHECK(moved("2024-01-31", {1, 0}) == "2024-02-29");
    CHECK(moved("2025-08-31", {1, 0}) == "2025-09-30");
    CHECK(moved("2025-12-31", {2, 0}) == "2026-02-28");
    CHECK(moved("1999-12-31", {1, 0}) == "2000-01-31");
    CHECK(moved("2000-02-28", {0, 1}) == "2000-02-29");
    CHECK(moved("1900-02-28", {0, 1}) == "1900-03-01");
    CHECK(moved("2025-12-25", {0, 42}) == "2026-02-05");
    CHECK(moved("2025-01-31", {1, 1}) == "2025-03-01");
    CHECK(moved("2025-06-15", {0, 0}) == "2025-06-15");
}

TEST_CASE("a length of zero is no length") {
    CHECK(Period{}.is_never());
    CHECK_FALSE(Period{0, 1}.is_never());
    CHECK_FALSE(Period{1, 0}.is_never());
}

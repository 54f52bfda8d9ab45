#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace glassine {

/// A moment, in nanoseconds since 1970-01-01T00:00:00Z: the resolution of today's file systems.
struct Timestamp {
    std::int64_t nanoseconds = 0;
    auto operator<=>(const Timestamp&) const = default;
};

/// A calendar day (proleptic Gregorian).
using Date = std::chrono::year_month_day;

/// "2025-09-06T14:03:22Z" (RFC 3339, seconds, UTC).
std::string rfc3339(Timestamp moment);
/// Reads RFC 3339 with `Z` or a numeric offset; nothing if it is not, or lies outside the years
/// 1678 to 2261, which a `Timestamp` reaches. A leap second is the first moment of the next day.
std::optional<Timestamp> parse_rfc3339(std::string_view text);

/// "2025-09-06" (ISO 8601 calendar date).
std::string iso_date(Date date);
/// Reads exactly YYYY-MM-DD and only days that exist; nothing otherwise.
std::optional<Date> parse_date(std::string_view text);
/// The UTC day of a moment.
Date utc_date(Timestamp moment);
/// The day in the computer's local time zone.
Date local_date(Timestamp moment);

}  // namespace glassine

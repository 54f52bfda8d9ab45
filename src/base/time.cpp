#include "glassine/base/time.h"

#include <array>
#include <charconv>
#include <ctime>

#include <fmt/format.h>

namespace glassine {
namespace {

using namespace std::chrono;
using Moment = sys_time<nanoseconds>;

Moment moment_of(Timestamp t) {
    return Moment(nanoseconds(t.nanoseconds));
}

/// Exactly `digits` decimal digits at `at`, or nothing.
std::optional<int> number(std::string_view text, std::size_t at, std::size_t digits) {
    if (at + digits > text.size()) return std::nullopt;
    int value = 0;
    for (const char c : text.substr(at, digits)) {
        if (c < '0' || c > '9') return std::nullopt;
        value = value * 10 + (c - '0');
    }
    return value;
}

/// "Z", "+02:00" or "-05:00".
std::optional<minutes> parse_offset(std::string_view text) {
    if (text == "Z" || text == "z") return minutes(0);
    if (text.size() != 6 || (text[0] != '+' && text[0] != '-') || text[3] != ':')
        return std::nullopt;
    const auto h = number(text, 1, 2);
    const auto m = number(text, 4, 2);
    if (!h || !m || *h > 23 || *m > 59) return std::nullopt;
    const minutes offset = hours(*h) + minutes(*m);
    return text[0] == '-' ? -offset : offset;
}

/// ".25" at the start of `text`, which is then moved past it; 0 if there is none, nothing if there
/// is a point without a digit. Digits beyond the nanosecond are dropped.
std::optional<nanoseconds> take_fraction(std::string_view& text) {
    if (text.empty() || text[0] != '.') return nanoseconds(0);
    std::int64_t fraction = 0;
    std::int64_t scale = 100'000'000;
    std::size_t at = 1;
    for (; at < text.size() && text[at] >= '0' && text[at] <= '9'; ++at, scale /= 10)
        fraction += (text[at] - '0') * scale;
    if (at == 1) return std::nullopt;
    text.remove_prefix(at);
    return nanoseconds(fraction);
}

/// A leap second ends the last minute of a month in UTC (RFC 3339 §5.7); `after` is the second that
/// follows 23:59:59.
bool may_follow_leap_second(sys_seconds after) {
    const auto day = floor<days>(after);
    return after == day && year_month_day(day).day() == std::chrono::day(1);
}

/// Nothing for years that 64 bits of nanoseconds do not reach (before 1678, after 2261).
std::optional<Timestamp> timestamp_of(sys_seconds second, nanoseconds fraction) {
    constexpr auto last = floor<seconds>(Moment::max()) - seconds(1);
    constexpr auto first = ceil<seconds>(Moment::min());
    if (second < first || second > last) return std::nullopt;
    return Timestamp{(Moment(second) + fraction).time_since_epoch().count()};
}

}  // namespace

std::string rfc3339(Timestamp moment) {
    const auto second = floor<seconds>(moment_of(moment));
    const auto day = floor<days>(second);
    const hh_mm_ss time(second - day);
    return fmt::format("{}T{:02}:{:02}:{:02}Z", iso_date(year_month_day(day)), time.hours().count(),
                       time.minutes().count(), time.seconds().count());
}

std::optional<Timestamp> parse_rfc3339(std::string_view text) {
    if (text.size() < 20 || (text[10] != 'T' && text[10] != 't' && text[10] != ' '))
        return std::nullopt;
    const auto date = parse_date(text.substr(0, 10));
    const auto h = number(text, 11, 2);
    const auto m = number(text, 14, 2);
    const auto s = number(text, 17, 2);
    if (!date || !h || !m || !s || text[13] != ':' || text[16] != ':') return std::nullopt;
    if (*h > 23 || *m > 59 || *s > 60) return std::nullopt;
    std::string_view rest = text.substr(19);
    const auto fraction = take_fraction(rest);
    const auto offset = parse_offset(rest);
    if (!fraction || !offset) return std::nullopt;
    const sys_seconds second = sys_days(*date) + hours(*h) + minutes(*m) + seconds(*s) - *offset;
    if (*s == 60 && !may_follow_leap_second(second)) return std::nullopt;
    return timestamp_of(second, *fraction);
}

std::string iso_date(Date date) {
    return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(date.year()),
                       static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()));
}

std::optional<Date> parse_date(std::string_view text) {
    if (text.size() != 10 || text[4] != '-' || text[7] != '-') return std::nullopt;
    const auto y = number(text, 0, 4);
    const auto m = number(text, 5, 2);
    const auto d = number(text, 8, 2);
    if (!y || !m || !d) return std::nullopt;
    const Date date{year(*y), month(static_cast<unsigned>(*m)), day(static_cast<unsigned>(*d))};
    if (!date.ok()) return std::nullopt;
    return date;
}

Date utc_date(Timestamp moment) {
    return floor<days>(moment_of(moment));
}

Date local_date(Timestamp moment) {
    const std::time_t seconds_since = floor<seconds>(moment_of(moment)).time_since_epoch().count();
    std::tm local{};
    ::localtime_r(&seconds_since, &local);
    return {year(local.tm_year + 1900), month(static_cast<unsigned>(local.tm_mon + 1)),
            day(static_cast<unsigned>(local.tm_mday))};
}

}  // namespace glassine

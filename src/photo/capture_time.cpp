#include "photo/capture_time.h"

#include <charconv>
#include <string>

namespace glassine::photo {

namespace {

using namespace std::chrono;

/// Exactly `width` digits at `at`.
std::optional<int> digits(std::string_view text, std::size_t at, std::size_t width) {
    if (at + width > text.size()) return std::nullopt;
    int value = 0;
    for (const char c : text.substr(at, width)) {
        if (c < '0' || c > '9') return std::nullopt;
        value = value * 10 + (c - '0');
    }
    return value;
}

/// Year, month, day, hour, minute, second at their places in 19 characters; what stands between is
/// not looked at.
std::optional<local_time<milliseconds>> moment(std::string_view text) {
    const auto y = digits(text, 0, 4);
    const auto m = digits(text, 5, 2);
    const auto d = digits(text, 8, 2);
    const auto hour = digits(text, 11, 2);
    const auto minute = digits(text, 14, 2);
    const auto second = digits(text, 17, 2);
    if (!y || !m || !d || !hour || !minute || !second) return std::nullopt;
    const year_month_day date(year(*y), month(static_cast<unsigned>(*m)),
                              day(static_cast<unsigned>(*d)));
    if (*y == 0 || !date.ok() || *hour > 23 || *minute > 59 || *second > 60) return std::nullopt;
    return local_days(date) + hours(*hour) + minutes(*minute) + seconds(*second) + milliseconds(0);
}

/// Decimal fraction digits: "5" is half a second, "05" a twentieth.
std::optional<milliseconds> fraction(std::string_view text) {
    std::string three(text.substr(0, text.find_first_not_of("0123456789")));
    if (three.empty()) return std::nullopt;
    three.resize(3, '0');
    return milliseconds(*digits(three, 0, 3));
}

std::optional<minutes> utc_offset(std::string_view text) {
    if (text == "Z") return minutes(0);
    const auto h = digits(text, 1, 2);
    const auto m = digits(text, 4, 2);
    if (text.size() < 6 || text[3] != ':' || !h || !m || *h > 14 || *m > 59) return std::nullopt;
    const minutes size = hours(*h) + minutes(*m);
    if (text[0] == '+') return size;
    return text[0] == '-' ? std::optional(-size) : std::nullopt;
}

}  // namespace

std::optional<CaptureTime> exif_time(std::string_view date_time, std::string_view subseconds,
                                     std::string_view offset) {
    const auto local = moment(date_time);
    if (!local) return std::nullopt;
    CaptureTime out{*local, false, utc_offset(offset)};
    if (const auto part = fraction(subseconds)) {
        out.local += *part;
        out.has_subseconds = true;
    }
    return out;
}

std::optional<CaptureTime> xmp_time(std::string_view text) {
    const auto local = moment(text);
    if (!local) return std::nullopt;
    CaptureTime out{*local, false, std::nullopt};
    text.remove_prefix(19);
    if (text.starts_with('.')) {
        text.remove_prefix(1);
        if (const auto part = fraction(text)) {
            out.local += *part;
            out.has_subseconds = true;
        }
        const auto end = text.find_first_not_of("0123456789");
        text.remove_prefix(end == std::string_view::npos ? text.size() : end);
    }
    out.utc_offset = utc_offset(text);
    return out;
}

}  // namespace glassine::photo

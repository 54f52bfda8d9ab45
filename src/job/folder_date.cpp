#include "folder_date.h"

#include "glassine/base/text.h"

#include <algorithm>
#include <array>
#include <charconv>

namespace glassine::job {
namespace {

constexpr unsigned earliest_year = 1900;
constexpr unsigned latest_year = 2099;
/// Two digits of a year: 70 and more were before digital cameras.
constexpr unsigned turn_of_century = 90;
constexpr unsigned last_of_two_digits = 69;

bool is_date_digit(char c) {
    return c >= '0' && c <= '9';
}

bool is_letter(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

/// Digits at the front, at most `most`.
std::string_view digits(std::string_view text, std::size_t most) {
    std::size_t n = 0;
    while (n < text.size() && n < most && is_date_digit(text[n]))
        ++n;
    return text.substr(0, n);
}

unsigned value_of(std::string_view digits) {
    unsigned value = 0;
    std::from_chars(digits.data(), digits.data() + digits.size(), value);
    return value;
}

std::optional<Date> day_of(unsigned year, unsigned month, unsigned day) {
    const Date date{std::chrono::year(static_cast<int>(year)), std::chrono::month(month),
                    std::chrono::day(day)};
    if (year < earliest_year || year > latest_year || !date.ok()) return std::nullopt;
    return date;
}

/// Of two readings the only one, or that of the studio's order.
std::optional<Date> settled(const std::optional<Date>& day_first,
                            const std::optional<Date>& month_first, DateOrder order) {
    if (day_first && month_first && *day_first != *month_first) {
        if (order == DateOrder::day_first) return day_first;
        if (order == DateOrder::month_first) return month_first;
        return std::nullopt;
    }
    return day_first ? day_first : month_first;
}

bool separates(char c) {
    return c == '-' || c == '_' || c == '.' || c == ' ';
}

/// Three groups of digits with the same separator between: their lengths and values.
struct Groups {
    std::array<std::string_view, 3> digits;
    std::size_t length = 0;
};
std::optional<Groups> three_groups(std::string_view text) {
    Groups groups;
    std::size_t at = 0;
    char separator = 0;
    for (std::size_t i = 0; i < 3; ++i) {
        if (i > 0) {
            if (at >= text.size() || !separates(text[at])) return std::nullopt;
            if (i == 1) separator = text[at];
            if (text[at] != separator) return std::nullopt;
            ++at;
        }
        groups.digits[i] = digits(text.substr(at), 4);
        if (groups.digits[i].empty()) return std::nullopt;
        at += groups.digits[i].size();
    }
    groups.length = at;
    return groups;
}

std::optional<WrittenDate> with_separators(std::string_view text, DateOrder order) {
    const auto groups = three_groups(text);
    if (!groups) return std::nullopt;
    const auto& [a, b, c] = groups->digits;
    if (a.size() == 4 && b.size() <= 2 && c.size() <= 2)
        return WrittenDate{0, groups->length, day_of(value_of(a), value_of(b), value_of(c))};
    if (c.size() == 4 && a.size() <= 2 && b.size() <= 2)
        return WrittenDate{0, groups->length,
                           settled(day_of(value_of(c), value_of(b), value_of(a)),
                                   day_of(value_of(c), value_of(a), value_of(b)), order)};
    return std::nullopt;
}

unsigned whole_year(unsigned two_digits) {
    if (two_digits > last_of_two_digits && two_digits < turn_of_century) return 0;
    return two_digits + (two_digits >= turn_of_century ? 1900 : 2000);
}

std::optional<Date> six_digits(unsigned a, unsigned b, unsigned c, DateOrder order) {
    const auto year_first = day_of(whole_year(a), b, c);
    const auto day_first = day_of(whole_year(c), b, a);
    const auto month_first = day_of(whole_year(c), a, b);
    if (order == DateOrder::year_first) return year_first;
    if (order == DateOrder::day_first) return day_first;
    if (order == DateOrder::month_first) return month_first;
    const int readings = year_first.has_value() + day_first.has_value() + month_first.has_value();
    if (readings != 1) return std::nullopt;
    return year_first ? year_first : day_first ? day_first : month_first;
}

/// "20140621", "140621".
std::optional<WrittenDate> without_separators(std::string_view text, DateOrder order) {
    const std::string_view all = digits(text, 9);
    const auto two = [&](std::size_t at) { return value_of(all.substr(at, 2)); };
    if (all.size() == 8)
        return WrittenDate{0, 8, day_of(value_of(all.substr(0, 4)), two(4), two(6))};
    if (all.size() == 6) return WrittenDate{0, 6, six_digits(two(0), two(2), two(4), order)};
    return std::nullopt;
}

constexpr std::array<std::string_view, 12> months{"january",   "february", "march",    "april",
                                                  "may",       "june",     "july",     "august",
                                                  "september", "october",  "november", "december"};

/// 1 to 12 for an English name of a month or its first three letters, at the front; 0: none.
struct Month {
    unsigned number = 0;
    std::size_t length = 0;
};
Month month_at_front(std::string_view text) {
    std::size_t length = 0;
    while (length < text.size() && is_letter(text[length]))
        ++length;
    const std::string word = text::ascii_lower(text.substr(0, length));
    for (unsigned i = 0; i < months.size(); ++i)
        if (word == months[i] || word == months[i].substr(0, 3)) return {i + 1, length};
    return {};
}

std::size_t blanks(std::string_view text) {
    std::size_t n = 0;
    while (n < text.size() &&
           (text[n] == ' ' || text[n] == '.' || text[n] == ',' || text[n] == '_' || text[n] == '-'))
        ++n;
    return n;
}

/// "21 June 2014", "June 21 2014".
std::optional<WrittenDate> date_in_words(std::string_view text) {
    std::size_t at = 0;
    unsigned day = 0;
    const auto take_day = [&] {
        const std::string_view number = digits(text.substr(at), 2);
        day = value_of(number);
        at += number.size();
        at += blanks(text.substr(at));
        return !number.empty();
    };
    const bool day_first = is_date_digit(text.front());
    if (day_first && !take_day()) return std::nullopt;
    const Month month = month_at_front(text.substr(at));
    if (month.number == 0) return std::nullopt;
    at += month.length;
    at += blanks(text.substr(at));
    if (!day_first && !take_day()) return std::nullopt;
    const std::string_view year = digits(text.substr(at), 5);
    if (year.size() != 4) return std::nullopt;
    return WrittenDate{0, at + 4, day_of(value_of(year), month.number, day)};
}

/// A date ends where no further digit follows.
bool ends_there(std::string_view text, const WrittenDate& date) {
    return date.length >= text.size() || !is_date_digit(text[date.length]);
}

}  // namespace

std::optional<WrittenDate> date_at_front(std::string_view text, DateOrder order) {
    if (text.empty()) return std::nullopt;
    for (const auto& found :
         {with_separators(text, order), without_separators(text, order), date_in_words(text)})
        if (found && ends_there(text, *found)) return found;
    return std::nullopt;
}

std::vector<WrittenDate> dates_in(std::string_view name, DateOrder order) {
    std::vector<WrittenDate> dates;
    for (std::size_t at = 0; at < name.size();) {
        const bool inside = at > 0 && ((is_date_digit(name[at]) && is_date_digit(name[at - 1])) ||
                                       (is_letter(name[at]) && is_letter(name[at - 1])));
        auto found = inside ? std::nullopt : date_at_front(name.substr(at), order);
        if (!found) {
            ++at;
            continue;
        }
        found->at = at;
        at += found->length;
        dates.push_back(*found);
    }
    return dates;
}

std::optional<WrittenDate> date_with_parents(std::string_view year, std::string_view month,
                                             std::string_view name, DateOrder order) {
    if (digits(year, 5).size() != 4 || year.size() != 4) return std::nullopt;
    const std::string_view first = digits(name, 3);
    if (first.empty() || first.size() > 2) return std::nullopt;
    const std::string_view rest = name.substr(first.size());
    const std::string_view second =
        rest.empty() || !separates(rest.front()) ? std::string_view() : digits(rest.substr(1), 3);
    const unsigned y = value_of(year);
    if (!second.empty() && second.size() <= 2 && rest.front() != ' ')
        return WrittenDate{0, first.size() + 1 + second.size(),
                           order == DateOrder::year_first
                               ? day_of(y, value_of(first), value_of(second))
                               : settled(day_of(y, value_of(second), value_of(first)),
                                         day_of(y, value_of(first), value_of(second)), order)};
    const std::string_view number = digits(month, 3);
    if (number.empty() || number.size() > 2) return std::nullopt;
    return WrittenDate{0, first.size(), day_of(y, value_of(number), value_of(first))};
}

}  // namespace glassine::job

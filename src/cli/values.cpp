#include "cli/values.h"

#include "glassine/base/error.h"
#include "glassine/base/text.h"

#include <algorithm>
#include <charconv>
#include <optional>

#include <fmt/format.h>

namespace glassine::cli {

Date date_option(std::string_view option, const std::string& value) {
    if (const auto date = parse_date(value)) return *date;
    throw Error(Cause::usage, "read " + std::string(option), "",
                "\"" + text::for_terminal(value) + "\" is not a day of the calendar",
                "write it like 2025-06-14");
}

KeepingDates keeping_dates(const std::string& promised, const std::string& keep_until) {
    KeepingDates dates;
    if (!promised.empty()) dates.promised = date_option("--promised", promised);
    if (!keep_until.empty()) dates.keep = date_option("--keep-until", keep_until);
    if (dates.promised && dates.keep && *dates.keep < *dates.promised)
        throw Error(Cause::usage, "read --keep-until", "",
                    iso_date(*dates.keep) + " comes before what was promised to the client, " +
                        iso_date(*dates.promised),
                    "keep the pictures at least as long as was promised");
    return dates;
}

namespace {

std::optional<unsigned> whole_number(const std::string& value, unsigned least, unsigned most) {
    unsigned number = 0;
    const auto [end, error] = std::from_chars(value.data(), value.data() + value.size(), number);
    if (error != std::errc() || end != value.data() + value.size()) return std::nullopt;
    if (number < least || number > most) return std::nullopt;
    return number;
}

}  // namespace

unsigned percent_option(std::string_view option, const std::string& value) {
    if (value == "none") return 0;
    if (const auto percent = whole_number(value, 1, 100)) return *percent;
    throw Error(Cause::usage, "read " + std::string(option), "",
                "\"" + text::for_terminal(value) + "\" is not a whole number from 1 to 100",
                "write it like 5, or none");
}

std::uint64_t size_option(std::string_view option, const std::string& value) {
    if (const auto bytes = text::parse_bytes(value)) return *bytes;
    throw Error(Cause::usage, "read " + std::string(option), "",
                "\"" + text::for_terminal(value) + "\" is no size", "write it like 700MB or 2GB");
}

unsigned number_option(std::string_view option, const std::string& value, unsigned least,
                       unsigned most) {
    if (const auto number = whole_number(value, least, most)) return *number;
    throw Error(Cause::usage, "read " + std::string(option), "",
                fmt::format("\"{}\" is not a whole number from {} to {}", text::for_terminal(value),
                            least, most),
                fmt::format("write it like {}", least + 1));
}

std::chrono::duration<double> duration_option(std::string_view option, const std::string& value) {
    std::chrono::seconds total{0};
    const char* at = value.data();
    const char* const end = at + value.size();
    std::string_view units = "hms";  // each at most once, the longest first
    while (at != end) {
        unsigned number = 0;
        const auto [unit, error] = std::from_chars(at, end, number);
        const std::size_t known = unit == end ? units.npos : units.find(*unit);
        if (error != std::errc() || known == units.npos || number > 100'000) break;
        const int seconds = *unit == 'h' ? 3600 : *unit == 'm' ? 60 : 1;
        total += std::chrono::seconds(std::int64_t{number} * seconds);
        units.remove_prefix(known + 1);
        at = unit + 1;
    }
    if (at == end && total.count() > 0) return total;
    throw Error(Cause::usage, "read " + std::string(option), "",
                "\"" + text::for_terminal(value) + "\" is not a length of time",
                "write it like 90m, 2h or 1h30m");
}

Budget budget_option(std::string_view option, const std::string& value) {
    // A bare number is neither: nobody knows whether it was meant as bytes or as minutes.
    const bool is_size = text::ascii_lower(value).ends_with("b");
    try {
        if (is_size) return {{}, size_option(option, value)};
        return {duration_option(option, value), {}};
    } catch (const Error& error) {
        throw Error(
            error.cause(), error.tried(), "",
            "\"" + text::for_terminal(value) + "\" is neither a length of time nor a size in bytes",
            "write it like 90m, 2h or 1h30m, or like 50GB");
    }
}

std::set<FindingKind> finding_kinds_option(std::string_view option,
                                           const std::vector<std::string>& words) {
    std::set<FindingKind> kinds;
    for (const std::string& given : words) {
        if (const auto kind = finding_kind(given)) {
            kinds.insert(*kind);
            continue;
        }
        std::vector<std::string> known;
        for (const KindInfo& info : finding_kinds())
            known.emplace_back(info.word);
        throw Error(Cause::usage, "read " + std::string(option), "",
                    "\"" + text::for_terminal(given) + "\" is no kind of finding",
                    "did you mean \"" + text::nearest(given, known) + "\"?");
    }
    return kinds;
}

}  // namespace glassine::cli

#pragma once

#include "glassine/base/finding.h"
#include "glassine/base/time.h"

#include <chrono>
#include <cstdint>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

/// Values of options, read with a clear word when they are not what they should be.
namespace glassine::cli {

/// A calendar day; Error `usage` for anything else.
Date date_option(std::string_view option, const std::string& value);

/// The options `--promised` and `--keep-until` as they were given; empty text: not given. Error
/// `usage` when what was promised ends after what is meant to be kept.
struct KeepingDates {
    std::optional<Date> promised;
    std::optional<Date> keep;
};
KeepingDates keeping_dates(const std::string& promised, const std::string& keep_until);

/// A whole number from 1 to 100, or "none" (0); Error `usage` for anything else.
unsigned percent_option(std::string_view option, const std::string& value);

/// "700MB", "2 GB", "1500000000", "512KiB": bytes, at least 1; Error `usage` for anything else.
std::uint64_t size_option(std::string_view option, const std::string& value);

/// A whole number from `least` to `most`; Error `usage` for anything else.
unsigned number_option(std::string_view option, const std::string& value, unsigned least,
                       unsigned most);

/// "90m", "2h", "1h30m", "45s", more than nothing; Error `usage` for anything else.
std::chrono::duration<double> duration_option(std::string_view option, const std::string& value);

/// A length of time or, with a unit of bytes ("50GB"), a size; Error `usage` for anything else.
struct Budget {
    std::optional<std::chrono::duration<double>> time;
    std::optional<std::uint64_t> bytes;
};
Budget budget_option(std::string_view option, const std::string& value);

/// Kinds by their words; Error `usage` names the nearest known one.
std::set<FindingKind> finding_kinds_option(std::string_view option,
                                           const std::vector<std::string>& words);

}  // namespace glassine::cli

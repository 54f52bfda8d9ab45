#include "slow_reads.h"

#include "glassine/base/text.h"

#include <algorithm>

#include <fmt/format.h>

namespace glassine::bagit {
namespace {

/// Common practice, no source: a file counts as slow when it took at least this long and read at
/// less than an eighth of the median rate. Small files say more about the queue than about the
/// medium.
constexpr double least_seconds = 1.0;
constexpr std::uint64_t least_bytes = 1u << 20;
constexpr double slow_share = 0.125;
constexpr std::size_t sample = 4096;
constexpr std::size_t fewest = 16;  ///< files, before a median means anything
constexpr std::size_t most_told = 100;

}  // namespace

void SlowReads::met(const std::string& name, const flow::Outcome& outcome) {
    if (outcome.status != flow::Status::whole) return;
    if (outcome.seconds <= 0) return;
    const double rate = static_cast<double>(outcome.bytes) / outcome.seconds;
    if (outcome.retries > 0) {
        if (retried_.size() < most_told) retried_.push_back({name, rate, outcome.retries});
        return;
    }
    if (outcome.bytes < least_bytes) return;
    if (rates_.size() < sample)
        rates_.push_back(rate);
    else
        rates_[count_ % sample] = rate;
    ++count_;
    if (outcome.seconds < least_seconds) return;
    if (slowest_.size() == most_told && slowest_.back().rate <= rate) return;
    const auto at = std::ranges::upper_bound(slowest_, rate, {}, &Read::rate);
    slowest_.insert(at, {name, rate, 0});
    if (slowest_.size() > most_told) slowest_.pop_back();
}

void SlowReads::tell(const std::function<void(Finding)>& report) const {
    for (const Read& read : retried_)
        report(found(FindingKind::slow_read, read.name,
                     fmt::format("it could be read, but only after {}, at {} a second",
                                 text::counted(read.retries, "further try", "further tries"),
                                 text::human_bytes(static_cast<std::uint64_t>(read.rate)))));
    if (count_ < fewest) return;
    std::vector<double> rates = rates_;
    const auto middle = rates.begin() + static_cast<std::ptrdiff_t>(rates.size() / 2);
    std::ranges::nth_element(rates, middle);
    for (const Read& read : slowest_)
        if (read.rate < *middle * slow_share)
            report(found(FindingKind::slow_read, read.name,
                         fmt::format("it read at {} a second, the others at {}",
                                     text::human_bytes(static_cast<std::uint64_t>(read.rate)),
                                     text::human_bytes(static_cast<std::uint64_t>(*middle)))));
}

}  // namespace glassine::bagit

#include "rhythm.h"

#include <algorithm>
#include <cstdlib>

namespace glassine::job {
namespace {

constexpr std::int64_t minute = 60;
constexpr std::int64_t pause = 10 * minute;
constexpr std::int64_t tolerance = 5 * minute;
constexpr std::int64_t bin = 10 * minute;

std::size_t matches(const std::vector<std::int64_t>& ours, const std::vector<std::int64_t>& theirs,
                    std::int64_t shift) {
    std::size_t count = 0;
    auto at = theirs.begin();
    for (const std::int64_t moment : ours) {
        while (at != theirs.end() && *at - shift < moment - tolerance)
            ++at;
        if (at == theirs.end() || *at - shift > moment + tolerance) continue;
        ++count;
        ++at;
    }
    return count;
}

std::int64_t bin_of(std::int64_t moment) {
    return moment >= 0 ? moment / bin : -((-moment + bin - 1) / bin);
}

/// Share of frames by bin; each frame is spread over three bins, so that edges matter less.
std::map<std::int64_t, double> distribution(const std::vector<std::int64_t>& times,
                                            std::int64_t shift) {
    std::map<std::int64_t, double> shares;
    const double each = 1.0 / static_cast<double>(times.size());
    for (const std::int64_t moment : times) {
        const std::int64_t at = bin_of(moment - shift);
        shares[at - 1] += each / 4;
        shares[at] += each / 2;
        shares[at + 1] += each / 4;
    }
    return shares;
}

}  // namespace

Rhythm::Rhythm(std::vector<std::int64_t> times) : times_(std::move(times)) {
    starts_.push_back(times_.front());
    for (std::size_t i = 1; i < times_.size(); ++i) {
        if (times_[i] - times_[i - 1] < pause) continue;
        ends_.push_back(times_[i - 1]);
        starts_.push_back(times_[i]);
    }
    ends_.push_back(times_.back());
}

Rhythm::Match Rhythm::boundaries(const Rhythm& other, std::int64_t shift) const {
    return {matches(starts_, other.starts_, shift) + matches(ends_, other.ends_, shift),
            2 * std::max(starts_.size(), other.starts_.size())};
}

double Rhythm::likeness(const Rhythm& other, std::int64_t shift) const {
    const auto ours = distribution(times_, 0);
    const auto theirs = distribution(other.times_, shift);
    double common = 0;
    for (const auto& [at, share] : ours) {
        const auto there = theirs.find(at);
        if (there != theirs.end()) common += std::min(share, there->second);
    }
    return common;
}

std::int64_t Rhythm::common(const Rhythm& other, std::int64_t shift) const {
    return std::min(end(), other.end() - shift) - std::max(begin(), other.begin() - shift);
}

}  // namespace glassine::job

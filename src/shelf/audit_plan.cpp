#include "glassine/shelf/audit_plan.h"

#include <algorithm>
#include <numeric>
#include <tuple>

#include <fmt/format.h>

namespace glassine::shelf {

namespace {

constexpr std::int64_t one_day = 24LL * 3600 * 1'000'000'000;
constexpr std::uint64_t enough_bytes = 64'000'000;
constexpr double slow_share = 2.0 / 3;

bool proven_since(const std::optional<Timestamp>& proven, const std::optional<Timestamp>& error) {
    return !error || (proven && proven->nanoseconds >= error->nanoseconds - one_day);
}

double bytes_a_second(std::uint64_t bytes, double seconds) {
    return seconds > 0 ? static_cast<double>(bytes) / seconds : 0;
}

double median(std::vector<double> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

/// The rate to expect of a bag: the median of its own earlier audits, or the volume's.
std::optional<double> usual_rate(std::span<const RatePoint> earlier, const std::string& bag,
                                 unsigned& compared) {
    std::vector<double> own;
    std::vector<double> all;
    for (const RatePoint& point : earlier) {
        const double rate = bytes_a_second(point.bytes, point.seconds);
        if (!(rate > 0)) continue;
        all.push_back(rate);
        if (point.bag == bag) own.push_back(rate);
    }
    std::vector<double>& basis = own.empty() ? all : own;
    if (basis.empty()) return std::nullopt;
    compared += static_cast<unsigned>(basis.size());
    return median(std::move(basis));
}

}  // namespace

Risk risk_of(const Facts& facts, const BagFacts& bag, const CopyFacts& copy) {
    if (!copy.counts()) return Risk::none;
    const VolumeFacts* volume = facts.volume(copy.volume);
    if (volume && !proven_since(copy.proven, volume->last_error)) return Risk::medium;
    const bool fine =
        std::all_of(bag.copies.begin(), bag.copies.end(), [&](const CopyFacts& other) {
            return &other == &copy || proven_since(copy.proven, other.last_error);
        });
    return fine ? Risk::none : Risk::job;
}

std::vector<PlannedAudit> plan_audit(const Facts& facts, std::string_view volume) {
    std::vector<PlannedAudit> plan;
    for (const BagFacts& bag : facts.bags) {
        for (const CopyFacts& copy : bag.copies) {
            if (copy.volume != volume || !copy.is_there()) continue;
            plan.push_back({bag.name, copy.seal, copy.path, bag.payload_bytes, copy.proven,
                            copy.counts() ? copy.proven : copy.checked, risk_of(facts, bag, copy)});
        }
    }
    // An empty optional is less than any moment: never proven comes first.
    std::sort(plan.begin(), plan.end(), [](const PlannedAudit& a, const PlannedAudit& b) {
        const bool a_calm = a.risk == Risk::none;
        const bool b_calm = b.risk == Risk::none;
        return std::tie(a_calm, a.judged, a.path) < std::tie(b_calm, b.judged, b.path);
    });
    return plan;
}

std::optional<RateComparison> compare_rates(std::span<const RatePoint> earlier,
                                            std::span<const RatePoint> now) {
    RateComparison comparison;
    std::uint64_t bytes = 0;
    double seconds = 0;
    double expected_seconds = 0;
    for (const RatePoint& point : now) {
        const auto usual = usual_rate(earlier, point.bag, comparison.compared);
        if (!usual || !(point.seconds > 0)) continue;
        bytes += point.bytes;
        seconds += point.seconds;
        expected_seconds += static_cast<double>(point.bytes) / *usual;
    }
    if (bytes < enough_bytes || !(expected_seconds > 0)) return std::nullopt;
    comparison.now = bytes_a_second(bytes, seconds);
    comparison.usual = bytes_a_second(bytes, expected_seconds);
    comparison.slower = comparison.now < slow_share * comparison.usual;
    return comparison;
}

std::optional<Finding> slow_volume(const RateComparison& comparison, const std::string& label) {
    if (!comparison.slower) return std::nullopt;
    return found(FindingKind::slow_read, label,
                 fmt::format("read at {:.0f} MB/s, in its earlier audits at {:.0f} MB/s: a drive "
                             "that slows down may be failing",
                             comparison.now / 1e6, comparison.usual / 1e6));
}

}  // namespace glassine::shelf

#include "clocks.h"

#include "glassine/base/text.h"
#include "rhythm.h"

#include <algorithm>
#include <cstdint>
#include <cstdlib>
#include <map>
#include <set>
#include <tuple>
#include <utility>

namespace glassine::job {
namespace {

constexpr std::int64_t hour = 3600;
constexpr std::int64_t day = 24 * hour;
constexpr std::int64_t farthest_zone = 14 * hour;  // apart: zones reach from -12 to +14 hours
constexpr std::size_t fewest_frames = 5;
constexpr std::int64_t most_of_a_year = 300 * day;

struct Clock {
    std::size_t body;
    Rhythm rhythm;
    std::optional<std::int64_t> zone;  ///< seconds; only when all frames agree
    bool on_date = false;
};

std::int64_t rounded(std::int64_t value, std::int64_t unit) {
    const std::int64_t half = value < 0 ? -unit / 2 : unit / 2;
    return (value + half) / unit * unit;
}

/// The bodies worked side by side, or their spells of work are many enough to be recognised.
bool brings_together(const Rhythm& a, const Rhythm& b, std::int64_t shift) {
    const Rhythm::Match now = a.boundaries(b, 0);
    const Rhythm::Match then = a.boundaries(b, shift);
    const auto shorter = static_cast<double>(std::min(a.length(), b.length()));
    const bool side_by_side = static_cast<double>(a.common(b, 0)) >= 0.75 * shorter;
    const std::size_t enough = side_by_side ? 2 : 6;
    return then.matched >= enough && then.share() >= 0.8 && now.share() <= then.share() / 2 &&
           a.likeness(b, shift) >= 0.7 && a.likeness(b, shift) > a.likeness(b, 0) + 0.05;
}

std::optional<std::int64_t> by_pattern(const Rhythm& a, const Rhythm& b) {
    std::vector<std::int64_t> shifts;
    for (std::int64_t shift = hour; shift <= farthest_zone; shift += hour)
        shifts.insert(shifts.end(), {shift, -shift});
    for (const std::int64_t days :
         {rounded(b.begin() - a.begin(), day), rounded(b.end() - a.end(), day)})
        if (days != 0) shifts.push_back(days);
    std::optional<std::int64_t> best;
    double likest = 0;
    for (const std::int64_t shift : shifts) {
        if (!brings_together(a, b, shift)) continue;
        const double likeness = a.likeness(b, shift);
        if (likeness > likest + 0.01) std::tie(best, likest) = std::pair(shift, likeness);
    }
    return best;
}

/// The cameras wrote down zones whose difference explains how their times differ.
std::optional<std::int64_t> by_zone(const Clock& a, const Clock& b) {
    if (!a.zone || !b.zone || a.zone == b.zone) return std::nullopt;
    const std::int64_t shift = *b.zone - *a.zone;
    const double then = a.rhythm.likeness(b.rhythm, shift);
    if (then < 0.5 || then < a.rhythm.likeness(b.rhythm, 0) + 0.1) return std::nullopt;
    return shift;
}

/// No moment in common, much the same hours of work: whole days.
std::optional<std::int64_t> by_days(const Rhythm& a, const Rhythm& b) {
    constexpr std::int64_t margin = hour / 2;
    if (a.common(b, 0) >= 0) return std::nullopt;
    const std::int64_t shift = rounded((b.begin() + b.end()) / 2 - (a.begin() + a.end()) / 2, day);
    if (shift == 0) return std::nullopt;
    const std::int64_t common = a.common(b, shift) + 2 * margin;
    const std::int64_t together = a.length() + b.length() + 4 * margin - common;
    if (2 * common >= together) return shift;
    if (-a.common(b, 0) > most_of_a_year) return shift;
    return std::nullopt;
}

std::optional<std::int64_t> ahead(const Clock& reference, const Clock& other) {
    if (const auto shift = by_zone(reference, other)) return shift;
    if (const auto shift = by_pattern(reference.rhythm, other.rhythm)) return shift;
    return by_days(reference.rhythm, other.rhythm);
}

std::vector<Clock> clocks_of(std::span<const Frame> frames, std::span<const Body> bodies,
                             std::optional<Date> date) {
    std::vector<std::vector<std::int64_t>> times(bodies.size());
    std::vector<std::vector<std::optional<std::int64_t>>> zones(bodies.size());
    for (const Frame& frame : frames) {
        if (frame.state == FrameState::delivered_only || !frame.captured) continue;
        const auto& captured = *frame.captured;
        times[frame.body].push_back(
            std::chrono::floor<std::chrono::seconds>(captured.local).time_since_epoch().count());
        std::optional<std::int64_t> zone;
        if (captured.utc_offset) zone = std::chrono::seconds(*captured.utc_offset).count();
        zones[frame.body].push_back(zone);
    }
    std::vector<Clock> clocks;
    for (std::size_t body = 0; body < bodies.size(); ++body) {
        const bool known = !bodies[body].model.empty() || !bodies[body].serial.empty();
        if (times[body].size() < fewest_frames || !known) continue;
        std::ranges::sort(times[body]);
        const bool one_zone =
            std::ranges::count(zones[body], zones[body].front()) == std::ssize(zones[body]);
        Clock clock{body, Rhythm(std::move(times[body])),
                    one_zone ? zones[body].front() : std::nullopt};
        clock.on_date = date && std::ranges::any_of(clock.rhythm.times(), [&](std::int64_t t) {
                            return std::chrono::floor<std::chrono::days>(std::chrono::local_seconds(
                                       std::chrono::seconds(t))) == std::chrono::local_days(*date);
                        });
        clocks.push_back(std::move(clock));
    }
    return clocks;
}

std::string part(std::int64_t count, std::string_view unit) {
    return count == 0 ? std::string() : text::counted(static_cast<std::uint64_t>(count), unit);
}

}  // namespace

std::vector<ClockShift> find_clock_shifts(std::span<const Frame> frames,
                                          std::span<const Body> bodies, std::optional<Date> date) {
    const std::vector<Clock> clocks = clocks_of(frames, bodies, date);
    std::map<std::pair<std::size_t, std::size_t>, std::int64_t> apart;
    std::vector<std::size_t> quarrels(clocks.size());
    for (std::size_t a = 0; a < clocks.size(); ++a) {
        for (std::size_t b = a + 1; b < clocks.size(); ++b) {
            const auto shift = ahead(clocks[a], clocks[b]);
            if (!shift) continue;
            apart[{a, b}] = *shift;
            apart[{b, a}] = -*shift;
            ++quarrels[a];
            ++quarrels[b];
        }
    }
    std::vector<ClockShift> shifts;
    while (!apart.empty()) {
        // The most trusted clock: at one with the date and with most others, then with the most
        // frames.
        const auto trust = [&](std::size_t i) {
            return std::tuple(clocks[i].on_date, -static_cast<std::int64_t>(quarrels[i]),
                              clocks[i].rhythm.frames());
        };
        std::size_t best = apart.begin()->first.first;
        for (const auto& [pair, shift] : apart)
            if (trust(pair.first) > trust(best)) best = pair.first;
        std::set<std::size_t> settled{best};
        for (const auto& [pair, shift] : apart) {
            if (pair.first != best) continue;
            shifts.push_back(
                {clocks[pair.second].body, clocks[best].body, std::chrono::seconds(shift)});
            settled.insert(pair.second);
        }
        std::erase_if(apart, [&](const auto& entry) {
            return settled.contains(entry.first.first) || settled.contains(entry.first.second);
        });
    }
    return shifts;
}

std::string shift_in_words(std::chrono::seconds shift) {
    std::int64_t seconds = std::abs(shift.count());
    std::string words;
    for (const auto& [unit, length] :
         {std::pair("day", day), std::pair("hour", hour), std::pair("minute", std::int64_t{60})}) {
        const std::string some = part(seconds / length, unit);
        seconds %= length;
        if (!words.empty() && !some.empty()) words += ' ';
        words += some;
    }
    return words;
}

}  // namespace glassine::job

#include "gaps.h"

#include "chain.h"

#include <algorithm>
#include <chrono>
#include <cstdint>
#include <limits>
#include <map>
#include <set>
#include <string>
#include <tuple>
#include <utility>

#include <fmt/format.h>

namespace glassine::job {
namespace {

constexpr int half_round = photo::dcf::last_number / 2;  // a longer way forward is a step back
constexpr int small_step = 100;
constexpr std::size_t fewest_changes = 3;

// When numbers follow no counting; so few gaps are soon looked at one by one.
constexpr std::size_t few_gaps = 5;
constexpr std::size_t few_leaps = 5;
constexpr std::size_t few_without_time = 20;
// Chains whose next `small_step` numbers are half of all numbers.
constexpr std::size_t half_covered = photo::dcf::last_number / (2 * small_step);

std::string prefix_of(const Evidence& face) {
    std::string prefix = face.camera_name->prefix;
    std::erase(prefix, '_');
    return prefix;
}

/// Frames whose numbers one counter gave, or several that cannot be told apart.
struct Group {
    std::vector<std::size_t> frames;  ///< numbered ones
    bool one_counter = false;
};

/// Steps of more than `small_step` numbers in the order of time.
struct Leaps {
    std::size_t forward = 0;  ///< over numbers that are missing, within a day
    std::size_t back = 0;
};

/// What is not missing in a group.
struct NotMissing {
    std::set<int> shot;
    std::set<int> reported;
    bool each_once = false;  ///< a number that was reported as missing is not missing again
};

/// Numbers in random order fall into about 2√n rising runs (the longest falling run of a random
/// permutation: Logan and Shepp 1977, Vershik and Kerov 1977; from memory). Half of that is no
/// counting of a few bodies. And when half of all numbers are close behind some chain, any number
/// fits one.
bool as_by_chance(std::size_t chains, std::size_t frames) {
    return chains * chains > frames || chains > half_covered;
}

/// Without times the numbers themselves are the order, and only their density tells.
bool are_scattered(std::size_t gaps, std::size_t frames) {
    return gaps > few_without_time && 4 * gaps > frames;
}

class GapFinder {
  public:
    GapFinder(std::span<const Frame> frames, std::span<const Evidence> faces,
              std::span<const Body> bodies)
        : frames_(frames), faces_(faces), bodies_(bodies) {}

    Counting run() {
        gather();
        for (auto& [key, group] : groups_)
            search(group);
        return std::move(result_);
    }

  private:
    using Key = std::pair<std::size_t, std::string>;  // body and, without a serial, prefix
    static constexpr std::size_t all_bodies = std::numeric_limits<std::size_t>::max();

    bool is_counted(std::size_t i) const {
        return faces_[i].camera_name && frames_[i].state != FrameState::delivered_only;
    }

    std::optional<std::int64_t> time(std::size_t i) const {
        if (!frames_[i].captured) return std::nullopt;
        return frames_[i].captured->local.time_since_epoch().count();
    }

    void gather() {
        std::map<std::string, std::vector<std::size_t>> by_prefix;
        for (std::size_t i = 0; i < frames_.size(); ++i) {
            if (is_counted(i)) by_prefix[prefix_of(faces_[i])].push_back(i);
            if (faces_[i].camera_name && (!is_counted(i) || !time(i) || is_unknown(i)))
                known_by_name_.emplace(prefix_of(faces_[i]), faces_[i].camera_name->number);
            if (!faces_[i].camera_name && time(i)) unnumbered_[frames_[i].body].push_back(*time(i));
        }
        for (auto& [body, times] : unnumbered_)
            std::ranges::sort(times);
        for (auto& [prefix, frames] : by_prefix) {
            in_order(frames);
            const bool given_by_people = runs_through_bodies(frames);
            for (const std::size_t i : frames) {
                const bool serial = !bodies_[frames_[i].body].serial.empty();
                Group& group = given_by_people ? groups_[{all_bodies, prefix}]
                               : serial        ? groups_[{frames_[i].body, {}}]
                                               : groups_[{frames_[i].body, prefix}];
                group.frames.push_back(i);
                group.one_counter = serial || given_by_people;
            }
        }
    }

    bool is_unknown(std::size_t i) const {
        return faces_[i].model.empty() && faces_[i].serial.empty();
    }

    void in_order(std::vector<std::size_t>& frames) const {
        std::ranges::sort(frames, {}, [&](std::size_t i) {
            return std::tuple(time(i).value_or(std::numeric_limits<std::int64_t>::max()),
                              faces_[i].camera_name->number, i);
        });
    }

    /// Raws that were renamed to one sequence over all bodies ("GALA0001" …) look like a camera's
    /// names, but count up in the order of time from body to body, which cameras do not.
    bool runs_through_bodies(const std::vector<std::size_t>& frames) const {
        std::size_t changes = 0;
        for (std::size_t k = 1; k < frames.size(); ++k) {
            const int steps = photo::dcf::steps(faces_[frames[k - 1]].camera_name->number,
                                                faces_[frames[k]].camera_name->number);
            if (steps == 0 || steps > small_step) return false;
            if (frames_[frames[k - 1]].body != frames_[frames[k]].body) ++changes;
        }
        return changes >= fewest_changes;
    }

    void search(Group& group) {
        in_order(group.frames);
        const bool timed = time(group.frames.front()).has_value();
        const bool one_counter = group.one_counter && timed;
        const std::vector<Chain> chains = chains_of(group.frames, timed, one_counter);
        std::set<int> shot;
        for (const std::size_t i : group.frames)
            shot.insert(faces_[i].camera_name->number);
        // One counter that gave a number twice began anew: then a number shot in another round may
        // well be missing in this one. Else whatever was shot is not missing, however clocks were
        // set meanwhile.
        const bool anew = one_counter && shot.size() < group.frames.size();
        if (anew) shot.clear();
        NotMissing known{std::move(shot), {}, one_counter && !anew};
        const std::size_t others = result_.gaps.size();
        Leaps leaps{0, leaps_back(chains)};
        for (const Chain& chain : chains)
            leaps.forward += report(chain, known);

        const std::size_t gaps = result_.gaps.size() - others;
        const std::size_t frames = group.frames.size();
        const bool uncounted = one_counter ? leaps.back >= few_leaps && leaps.forward >= few_leaps
                               : timed     ? as_by_chance(chains.size(), frames)
                                           : are_scattered(gaps, frames);
        if (!uncounted || gaps <= few_gaps) return;
        result_.gaps.resize(others);
        result_.uncounted.push_back({group.frames.front(), frames, gaps});
    }

    std::vector<Chain> chains_of(const std::vector<std::size_t>& frames, bool timed,
                                 bool one_counter) const {
        std::vector<Chain> chains;
        for (const std::size_t i : frames) {
            const Chain::Link link{i, faces_[i].camera_name->number, time(i)};
            // Frames without a time have no place in the counting; their numbers are known by name.
            if (!timed || link.milliseconds) place(chains, link, one_counter);
        }
        return chains;
    }

    static std::size_t leaps_back(const std::vector<Chain>& chains) {
        std::size_t leaps = 0;
        for (std::size_t k = 1; k < chains.size(); ++k) {
            const int back = photo::dcf::steps(chains[k].links().begin()->second.number,
                                               chains[k - 1].links().rbegin()->second.number);
            if (back > small_step) ++leaps;
        }
        return leaps;
    }

    static void place(std::vector<Chain>& chains, const Chain::Link& link, bool one_counter) {
        Chain* best = nullptr;
        int fewest = 0;
        const std::size_t first = one_counter && !chains.empty() ? chains.size() - 1 : 0;
        for (std::size_t k = first; k < chains.size(); ++k) {
            const auto steps = chains[k].steps_to(link, one_counter ? half_round : small_step);
            if (!steps || (best && *steps >= fewest)) continue;
            best = &chains[k];
            fewest = *steps;
        }
        if (best) {
            best->extend(link, fewest);
            return;
        }
        for (std::size_t k = first; k < chains.size(); ++k) {
            if (chains[k].fill_in(link)) return;
        }
        chains.emplace_back(link);
    }

    /// Tells how many leaps forward there were.
    std::size_t report(const Chain& chain, NotMissing& known) {
        std::size_t leaps = 0;
        auto before = chain.links().begin();
        for (auto at = std::next(before); at != chain.links().end(); before = at++) {
            std::vector<std::int64_t> missing = missing_between(*before, *at, known.shot);
            if (missing.size() <= unnumbered_between(before->second, at->second)) continue;
            const std::size_t a = before->second.frame;
            const std::size_t b = at->second.frame;
            if (missing.size() > small_step && !on_another_day(frames_[a], frames_[b])) ++leaps;
            if (known.each_once) {
                std::erase_if(missing, [&](std::int64_t place) {
                    return !known.reported.insert(Chain::number_at(place)).second;
                });
            }
            enter(a, b, missing);
        }
        return leaps;
    }

    std::vector<std::int64_t> missing_between(const std::pair<const std::int64_t, Chain::Link>& a,
                                              const std::pair<const std::int64_t, Chain::Link>& b,
                                              const std::set<int>& shot) const {
        std::vector<std::int64_t> missing;
        std::pair name(prefix_of(faces_[a.second.frame]), 0);
        for (std::int64_t place = a.first + 1; place < b.first; ++place) {
            name.second = Chain::number_at(place);
            if (!shot.contains(name.second) && !known_by_name_.contains(name))
                missing.push_back(place);
        }
        return missing;
    }

    /// Each run of missing numbers is a gap.
    void enter(std::size_t a, std::size_t b, std::span<const std::int64_t> missing) {
        for (std::size_t begin = 0; begin < missing.size();) {
            std::size_t end = begin + 1;
            while (end < missing.size() && missing[end] == missing[end - 1] + 1)
                ++end;
            const auto name = [&](std::int64_t place) {
                return fmt::format("{}{:04}", faces_[a].camera_name->prefix,
                                   Chain::number_at(place));
            };
            result_.gaps.push_back({a, b, static_cast<int>(end - begin), name(missing[begin]),
                                    name(missing[end - 1])});
            begin = end;
        }
    }

    /// Frames of the body that carry no number but were shot between the two: they may be the
    /// missing ones.
    std::size_t unnumbered_between(const Chain::Link& a, const Chain::Link& b) const {
        const auto at = unnumbered_.find(frames_[a.frame].body);
        if (at == unnumbered_.end() || !a.milliseconds || !b.milliseconds) return 0;
        const auto from = std::ranges::lower_bound(at->second, *a.milliseconds);
        const auto to = std::ranges::upper_bound(at->second, *b.milliseconds);
        return from < to ? static_cast<std::size_t>(to - from) : 0;
    }

    std::span<const Frame> frames_;
    std::span<const Evidence> faces_;
    std::span<const Body> bodies_;
    std::map<Key, Group> groups_;
    /// Prefix and number of frames that have no place in time or no body.
    std::set<std::pair<std::string, int>> known_by_name_;
    std::map<std::size_t, std::vector<std::int64_t>> unnumbered_;
    Counting result_;
};

}  // namespace

bool on_another_day(const Frame& before, const Frame& behind) {
    return before.captured && behind.captured &&
           behind.captured->local - before.captured->local > std::chrono::hours(20);
}

Counting find_gaps(std::span<const Frame> frames, std::span<const Evidence> faces,
                   std::span<const Body> bodies) {
    return GapFinder(frames, faces, bodies).run();
}

}  // namespace glassine::job

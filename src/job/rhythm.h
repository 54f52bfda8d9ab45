#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <vector>

namespace glassine::job {

/// When one body was at work, in seconds by its own clock.
class Rhythm {
  public:
    /// `times` ascending, not empty.
    explicit Rhythm(std::vector<std::int64_t> times);

    std::int64_t begin() const { return times_.front(); }
    std::int64_t end() const { return times_.back(); }
    std::int64_t length() const { return end() - begin(); }
    std::size_t frames() const { return times_.size(); }
    const std::vector<std::int64_t>& times() const { return times_; }

    struct Match {
        std::size_t matched = 0;
        std::size_t of = 0;  ///< the larger number of boundaries
        double share() const { return static_cast<double>(matched) / static_cast<double>(of); }
    };
    /// How many beginnings and ends of spells of work coincide with the other's, when `shift` is
    /// taken off the other's clock.
    Match boundaries(const Rhythm& other, std::int64_t shift) const;
    /// What the two have in common of their frames' distribution over time, 0 to 1.
    double likeness(const Rhythm& other, std::int64_t shift) const;
    /// Seconds during which both were between their first and last frame; negative: apart by so
    /// much.
    std::int64_t common(const Rhythm& other, std::int64_t shift) const;

  private:
    std::vector<std::int64_t> times_;
    std::vector<std::int64_t> starts_;
    std::vector<std::int64_t> ends_;
};

}  // namespace glassine::job

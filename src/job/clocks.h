#pragma once

#include "glassine/base/time.h"
#include "glassine/job/accounting.h"

#include <chrono>
#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace glassine::job {

/// A body whose clock disagrees with another's.
struct ClockShift {
    std::size_t body = 0;
    std::size_t reference = 0;
    std::chrono::seconds ahead{};  ///< negative: the body's clock is behind
};

/// Bodies whose clocks are apart by whole hours or by days.
///
/// That two bodies shot at different times proves nothing: photographers share a day between them.
/// So a shift is believed only when it brings the *pattern* of work together: the beginnings and
/// ends of spells of shooting (apart by pauses of ten minutes or more) coincide within five minutes
/// after the shift and do not before it, and the densities agree. Two matching ends are enough only
/// where the bodies worked side by side for most of their time; else it takes six. Days are
/// believed when the bodies share no moment and their hours of work are much the same after the
/// shift, or when they lie most of a year apart. Time zones that the cameras wrote down make a
/// candidate of their difference.
///
/// The rule is Glassine's own; docs/frame-accounting.md gives its reasons and limits. `date` helps
/// to tell which of two clocks is right.
std::vector<ClockShift> find_clock_shifts(std::span<const Frame> frames,
                                          std::span<const Body> bodies, std::optional<Date> date);

/// "1 hour", "3 days", "2 days 5 hours".
std::string shift_in_words(std::chrono::seconds shift);

}  // namespace glassine::job

#pragma once

#include <algorithm>
#include <chrono>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <mutex>
#include <stop_token>
#include <thread>

namespace glassine::store {

/// Keeps everything that is sent together below a rate.
class Pace {
  public:
    using Clock = std::chrono::steady_clock;

    /// Bytes a second; 0: no limit.
    Pace(std::uint64_t rate, std::stop_token stop) : rate_(rate), stop_(std::move(stop)) {}

    /// The most that goes in one step, so that the line is used evenly: a twentieth of a second's.
    std::size_t step() const {
        constexpr std::uint64_t least = 1024;
        return rate_ == 0 ? std::numeric_limits<std::size_t>::max()
                          : static_cast<std::size_t>(std::max(rate_ / 20, least));
    }

    /// Returns when so many bytes may go.
    void take(std::uint64_t bytes) {
        if (rate_ == 0) return;
        Clock::time_point turn;
        {
            const std::lock_guard lock(mutex_);
            next_ = std::max(next_, Clock::now());
            turn = next_;
            next_ += std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(
                static_cast<double>(bytes) / static_cast<double>(rate_)));
        }
        constexpr std::chrono::milliseconds slice{100};
        while (!stop_.stop_requested() && Clock::now() < turn)
            std::this_thread::sleep_for(std::min<Clock::duration>(slice, turn - Clock::now()));
    }

  private:
    std::uint64_t rate_;
    std::stop_token stop_;
    std::mutex mutex_;
    Clock::time_point next_{};
};

}  // namespace glassine::store

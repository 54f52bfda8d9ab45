#pragma once

#include <chrono>
#include <cstdint>
#include <deque>

namespace glassine::flow {

/// Bytes a second over the last seconds, steady enough to tell the time left by.
class RateMeter {
  public:
    using Clock = std::chrono::steady_clock;

    double update(std::uint64_t bytes, Clock::time_point now) {
        samples_.push_back({now, bytes});
        while (samples_.size() > 2 && now - samples_.front().when > window)
            samples_.pop_front();
        const double seconds = std::chrono::duration<double>(now - samples_.front().when).count();
        if (seconds < 0.2) return 0;
        return static_cast<double>(bytes - samples_.front().bytes) / seconds;
    }

  private:
    static constexpr std::chrono::seconds window{8};
    struct Sample {
        Clock::time_point when;
        std::uint64_t bytes;
    };
    std::deque<Sample> samples_;
};

}  // namespace glassine::flow

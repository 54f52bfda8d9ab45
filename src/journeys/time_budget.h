#pragma once

#include <chrono>
#include <condition_variable>
#include <mutex>
#include <optional>
#include <stop_token>
#include <thread>

namespace glassine::journeys {

/// A stop that comes when the user asks for it or when the time is up, whichever is first.
class TimeBudget {
  public:
    /// Without a budget only the user stops.
    TimeBudget(const std::stop_token& user, std::optional<std::chrono::duration<double>> budget)
        : on_user_(user, Forward{stop_}) {
        if (!budget) return;
        const auto end = std::chrono::steady_clock::now() +
                         std::chrono::duration_cast<std::chrono::steady_clock::duration>(*budget);
        clock_ = std::jthread([this, end](const std::stop_token& done) {
            std::unique_lock lock(mutex_);
            up_.wait_until(lock, done, end, [] { return false; });
            if (!done.stop_requested()) stop_.request_stop();
        });
    }

    std::stop_token token() const { return stop_.get_token(); }
    bool is_over() const { return stop_.stop_requested(); }

  private:
    struct Forward {
        std::stop_source& stop;
        void operator()() const { stop.request_stop(); }
    };
    std::stop_source stop_;
    std::stop_callback<Forward> on_user_;
    std::mutex mutex_;
    std::condition_variable_any up_;
    std::jthread clock_;
};

}  // namespace glassine::journeys

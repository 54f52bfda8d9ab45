#pragma once

#include <condition_variable>
#include <cstdint>
#include <deque>
#include <functional>
#include <mutex>
#include <thread>
#include <vector>

namespace glassine::flow {

/// Threads that send parts side by side, and the memory that parts may take while they wait.
class PartSender {
  public:
    PartSender(unsigned threads, std::uint64_t memory);
    /// Waits for what is under way; what has not begun is dropped.
    ~PartSender();
    PartSender(const PartSender&) = delete;
    PartSender& operator=(const PartSender&) = delete;

    /// Takes memory for a part if there is some; a part larger than all of it gets it when nothing
    /// else is held.
    bool try_reserve(std::uint64_t bytes);
    /// The same, and waits for it.
    void reserve(std::uint64_t bytes);
    void release(std::uint64_t bytes);

    /// `job` must not throw; it may submit others.
    void submit(std::function<void()> job);
    /// Returns when everything submitted is done.
    void wait();

  private:
    bool fits(std::uint64_t bytes) const { return held_ == 0 || held_ + bytes <= memory_; }
    void work();

    std::uint64_t memory_;
    std::mutex mutex_;
    std::condition_variable changed_;
    std::uint64_t held_ = 0;
    std::deque<std::function<void()>> jobs_;
    std::size_t running_ = 0;
    bool ending_ = false;
    std::vector<std::jthread> threads_;
};

}  // namespace glassine::flow

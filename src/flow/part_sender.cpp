#include "flow/part_sender.h"

#include <utility>

namespace glassine::flow {

PartSender::PartSender(unsigned threads, std::uint64_t memory) : memory_(memory) {
    for (unsigned i = 0; i < threads; ++i)
        threads_.emplace_back([this] { work(); });
}

PartSender::~PartSender() {
    {
        const std::lock_guard lock(mutex_);
        ending_ = true;
        jobs_.clear();
    }
    changed_.notify_all();
    threads_.clear();
}

bool PartSender::try_reserve(std::uint64_t bytes) {
    const std::lock_guard lock(mutex_);
    if (!fits(bytes)) return false;
    held_ += bytes;
    return true;
}

void PartSender::reserve(std::uint64_t bytes) {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return fits(bytes); });
    held_ += bytes;
}

void PartSender::release(std::uint64_t bytes) {
    {
        const std::lock_guard lock(mutex_);
        held_ -= bytes;
    }
    changed_.notify_all();
}

void PartSender::submit(std::function<void()> job) {
    {
        const std::lock_guard lock(mutex_);
        jobs_.push_back(std::move(job));
    }
    changed_.notify_all();
}

void PartSender::wait() {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return jobs_.empty() && running_ == 0; });
}

void PartSender::work() {
    std::unique_lock lock(mutex_);
    for (;;) {
        changed_.wait(lock, [&] { return ending_ || !jobs_.empty(); });
        if (ending_) return;
        std::function<void()> job = std::move(jobs_.front());
        jobs_.pop_front();
        ++running_;
        lock.unlock();
        job();
        job = nullptr;
        lock.lock();
        --running_;
        changed_.notify_all();
    }
}

}  // namespace glassine::flow

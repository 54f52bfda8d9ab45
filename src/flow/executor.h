#pragma once

#include <condition_variable>
#include <deque>
#include <functional>
#include <memory>
#include <mutex>
#include <thread>
#include <vector>

namespace glassine::flow {

/// Something that has work to do now and then, never on two threads at once.
class Task {
  public:
    virtual ~Task() = default;
    /// Does some of the work; true when there is more.
    virtual bool run() = 0;
};

/// A fixed set of threads that run tasks in the order in which they were submitted.
class Executor {
  public:
    explicit Executor(std::size_t threads) {
        for (std::size_t i = 0; i < threads; ++i)
            threads_.emplace_back([this] { work(); });
    }

    ~Executor() {
        {
            const std::lock_guard lock(mutex_);
            stopping_ = true;
        }
        came_.notify_all();
        for (std::thread& t : threads_)
            t.join();
    }

    void submit(std::shared_ptr<Task> task) {
        {
            const std::lock_guard lock(mutex_);
            tasks_.push_back(std::move(task));
        }
        came_.notify_one();
    }

    /// Lets the calling thread do one piece of work; false when there is none.
    bool help() {
        std::shared_ptr<Task> task;
        {
            const std::lock_guard lock(mutex_);
            if (tasks_.empty()) return false;
            task = std::move(tasks_.front());
            tasks_.pop_front();
        }
        if (task->run()) submit(std::move(task));
        return true;
    }

  private:
    void work() {
        for (;;) {
            std::shared_ptr<Task> task;
            {
                std::unique_lock lock(mutex_);
                came_.wait(lock, [this] { return stopping_ || !tasks_.empty(); });
                if (tasks_.empty()) return;
                task = std::move(tasks_.front());
                tasks_.pop_front();
            }
            if (task->run()) submit(std::move(task));
        }
    }

    std::mutex mutex_;
    std::condition_variable came_;
    std::deque<std::shared_ptr<Task>> tasks_;
    bool stopping_ = false;
    std::vector<std::thread> threads_;
};

}  // namespace glassine::flow

#pragma once

#include "glassine/store/client.h"
#include "store/http.h"
#include "store/trouble.h"

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <functional>
#include <initializer_list>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace glassine::store {

/// How long to wait before the next attempt, and the waiting; tests put their own in its place.
class Backoff {
  public:
    virtual ~Backoff() = default;
    /// `attempt`: how many there were. Full jitter: a random part of a time that doubles.
    virtual std::chrono::milliseconds before_next(unsigned attempt);
    virtual void wait(std::chrono::milliseconds time, const std::function<bool()>& stopped);
};

/// Lets no more than so many in at once.
class Turns {
  public:
    explicit Turns(unsigned most) : free_(most) {}
    class Turn {
      public:
        explicit Turn(Turns& turns) : turns_(turns) { turns_.enter(); }
        ~Turn() { turns_.leave(); }
        Turn(const Turn&) = delete;
        Turn& operator=(const Turn&) = delete;

      private:
        Turns& turns_;
    };

  private:
    void enter();
    void leave();

    std::mutex mutex_;
    std::condition_variable changed_;
    unsigned free_;
};

/// One request, tried until it succeeds or is not worth another attempt.
class Requests {
  public:
    /// Words of a store for what is in order here, "NoSuchKey".
    using Codes = std::initializer_list<std::string_view>;
    using Parameters = std::vector<std::pair<std::string, std::string>>;

    /// What is to be done, and what an Error says was tried.
    struct What {
        std::string method;
        Address address;
        Parameters parameters{};
        std::vector<std::string> headers{};
        const Body* body = nullptr;  ///< none
        std::string tried;
    };

    Requests(Settings settings, Credentials credentials, std::stop_token stop,
             std::unique_ptr<Backoff> backoff = std::make_unique<Backoff>());

    /// The answer when it is good; else Error.
    HttpAnswer run(const What& what);
    /// The answer, good or with one of the accepted codes. `attempts`, where given, tells how many
    /// it took: an earlier one may have done the work before its answer was lost.
    HttpAnswer run_accepting(const What& what, Codes codes, unsigned* attempts = nullptr);
    /// As `run_accepting`, its body still to be read.
    std::unique_ptr<Http::Incoming> open(const What& what, Codes codes);

    const Settings& settings() const { return http_.settings(); }
    /// Waits before the next attempt; false when it was the last. While the store is gone (several
    /// requests in a row had no answer at any attempt) each has one attempt: that finds out when it
    /// is back, and a journey of many objects comes to its end.
    bool wait_for_next(unsigned attempt, const HttpAnswer& answer);

  private:
    HttpRequest built(const What& what) const;
    std::unique_ptr<Http::Incoming> attempt(const What& what, Codes accepted, unsigned& attempts);
    HttpAnswer in_words(const What& what, HttpAnswer answer);

    Http http_;
    /// Requests given up in a row since the store last said anything.
    std::atomic<unsigned> unanswered_{0};
    std::unique_ptr<Backoff> backoff_;
    Turns turns_;
};

}  // namespace glassine::store

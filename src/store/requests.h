#pragma once

#include "glassine/store/address.h"
#include "store/http.h"
#include "store/trouble.h"

#include <chrono>
#include <functional>
#include <string>
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

/// One request, tried until it succeeds or is not worth another attempt.
class Requests {
  public:
    using Parameters = std::vector<std::pair<std::string, std::string>>;

    /// What is to be done, and what an Error says was tried.
    struct What {
        std::string method;
        Address address;
        Parameters parameters{};
        std::vector<std::string> headers{};
        std::span<const std::byte> body{};
        std::string tried;
    };

    Requests(Settings settings, Credentials credentials, std::stop_token stop);

    /// The answer when it is good; else Error.
    HttpAnswer run(const What& what);
    /// The answer, good or with one of the accepted codes.
    HttpAnswer run_accepting(const What& what, std::string_view code);
    /// As `run`, its body still to be read.
    std::unique_ptr<Http::Incoming> open(const What& what);

    const Settings& settings() const { return http_.settings(); }
    Http& http() { return http_; }
    void set_backoff(std::unique_ptr<Backoff> backoff) { backoff_ = std::move(backoff); }
    /// Waits before the next attempt; false when it was the last.
    bool wait_for_next(unsigned attempt, const HttpAnswer& answer);

  private:
    HttpRequest built(const What& what) const;
    std::unique_ptr<Http::Incoming> attempt(const What& what, std::string_view accepted);

    Http http_;
    std::unique_ptr<Backoff> backoff_ = std::make_unique<Backoff>();
};

}  // namespace glassine::store

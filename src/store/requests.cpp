#include "store/requests.h"

#include "glassine/digest/digest.h"
#include "store/encoding.h"

#include <algorithm>
#include <charconv>
#include <random>
#include <thread>

#include <fmt/format.h>

namespace glassine::store {
namespace {

using std::chrono::milliseconds;

constexpr milliseconds first_wait{200};
constexpr milliseconds longest_wait{20'000};
/// What a store may ask for by Retry-After.
constexpr milliseconds longest_asked_for{120'000};

/// A store that left these requests without an answer at all their attempts is gone.
constexpr unsigned most_unanswered = 3;

/// RFC 9110 §10.2.3, the form in seconds.
milliseconds asked_for(const HttpAnswer& answer) {
    const auto header = answer.headers.find("retry-after");
    if (header == answer.headers.end()) return milliseconds(0);
    unsigned seconds = 0;
    const std::string& text = header->second;
    std::from_chars(text.data(), text.data() + text.size(), seconds);
    return std::min<milliseconds>(std::chrono::seconds(seconds), longest_asked_for);
}

}  // namespace

milliseconds Backoff::before_next(unsigned attempt) {
    thread_local std::minstd_rand random{std::random_device{}()};
    const auto most = std::min(longest_wait, first_wait * (1u << std::min(attempt, 10u)));
    return milliseconds(std::uniform_int_distribution<milliseconds::rep>(0, most.count())(random));
}

void Backoff::wait(milliseconds time, const std::function<bool()>& stopped) {
    const auto end = std::chrono::steady_clock::now() + time;
    constexpr milliseconds slice{100};
    while (!stopped() && std::chrono::steady_clock::now() < end)
        std::this_thread::sleep_for(std::min(slice, time));
}

void Turns::enter() {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [this] { return free_ > 0; });
    --free_;
}

void Turns::leave() {
    {
        const std::lock_guard lock(mutex_);
        ++free_;
    }
    changed_.notify_one();
}

Requests::Requests(Settings settings, Credentials credentials, std::stop_token stop,
                   std::unique_ptr<Backoff> backoff)
    : http_(std::move(settings), std::move(credentials), std::move(stop)),
      backoff_(std::move(backoff)),
      turns_(http_.settings().connections) {}

HttpRequest Requests::built(const What& what) const {
    HttpRequest request;
    request.method = what.method;
    const std::string key = percent_encode(what.address.key, true);
    if (settings().path_style)
        request.path = fmt::format("/{}{}{}", what.address.bucket, key.empty() ? "" : "/", key);
    else {
        request.host_prefix = what.address.bucket + ".";
        request.path = "/" + key;
    }
    request.query = query_of(what.parameters);
    request.headers = what.headers;
    if (what.body != nullptr) request.body = what.body->bytes;
    request.headers.push_back("x-amz-content-sha256: " +
                              digest::digest_of(digest::Algorithm::sha256, request.body).hex());
    if (what.body != nullptr)
        request.headers.push_back("Content-MD5: " + base64(what.body->md5.bytes()));
    return request;
}

bool Requests::wait_for_next(unsigned attempt, const HttpAnswer& answer) {
    if (attempt >= settings().attempts || !trouble_of(answer).may_pass) return false;
    if (answer.status == 0 && unanswered_ >= most_unanswered) return false;
    backoff_->wait(std::max(backoff_->before_next(attempt), asked_for(answer)),
                   [this] { return http_.stopped(); });
    return true;
}

std::unique_ptr<Http::Incoming> Requests::attempt(const What& what, Codes accepted,
                                                  unsigned& attempts) {
    const HttpRequest request = built(what);
    for (attempts = 1;; ++attempts) {
        auto incoming = http_.open(request);
        const HttpAnswer& answer = incoming->answer();
        if (answer.status != 0) unanswered_ = 0;
        // One that broke off by now counts as well: whoever reads it goes on from there.
        const bool body_wanted =
            what.method == "GET" && answer.status >= 200 && answer.status <= 299;
        if (body_wanted) return incoming;
        incoming->take_body();
        if (is_good(answer)) return incoming;
        if (answer.failure.empty() &&
            std::ranges::find(accepted, trouble_of(answer).code) != accepted.end())
            return incoming;
        if (!wait_for_next(attempts, answer)) {
            if (answer.status == 0 && !answer.stopped) ++unanswered_;
            throw error_for(in_words(what, answer), what.tried, what.address.text(), settings());
        }
    }
}

/// A refusal of HEAD comes without words: why is asked for once more by GET.
HttpAnswer Requests::in_words(const What& what, HttpAnswer answer) {
    if (what.method != "HEAD" || !answer.failure.empty() || answer.status / 100 != 4) return answer;
    What again = what;
    again.method = "GET";
    again.headers.emplace_back("Range: bytes=0-0");
    const auto incoming = http_.open(built(again));
    incoming->take_body();
    return is_good(incoming->answer()) ? answer : incoming->answer();
}

HttpAnswer Requests::run(const What& what) {
    return run_accepting(what, {});
}

HttpAnswer Requests::run_accepting(const What& what, Codes codes, unsigned* attempts) {
    const Turns::Turn turn(turns_);
    unsigned tries = 0;
    for (unsigned bodies = 1;; ++bodies) {
        const auto incoming = attempt(what, codes, tries);
        if (attempts != nullptr) *attempts = tries;
        if (what.method == "GET" && incoming->answer().status <= 299) incoming->take_body();
        const HttpAnswer& answer = incoming->answer();
        if (answer.failure.empty()) return answer;
        // The body broke off.
        if (!wait_for_next(bodies, answer))
            throw error_for(answer, what.tried, what.address.text(), settings());
    }
}

std::unique_ptr<Http::Incoming> Requests::open(const What& what, Codes codes) {
    unsigned attempts = 0;
    return attempt(what, codes, attempts);
}

}  // namespace glassine::store

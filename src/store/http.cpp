#include "store/http.h"

#include "store/http_line.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

namespace glassine::store {
namespace {

/// Errors are explained in a few hundred bytes, pages of listings in a few hundred thousand.
constexpr std::size_t largest_body = 16u << 20;

/// libcurl wants this once, before threads use it.
void start_curl() {
    static const CURLcode started = curl_global_init(CURL_GLOBAL_DEFAULT);
    static_cast<void>(started);
}

}  // namespace

Http::Http(Settings settings, Credentials credentials, std::stop_token stop)
    : settings_(std::move(settings)),
      credentials_(std::move(credentials)),
      stop_(std::move(stop)),
      pace_(settings_.rate, stop_) {
    start_curl();
    const std::size_t slashes = settings_.endpoint.find("://");
    scheme_ = settings_.endpoint.substr(0, slashes);
    host_ = settings_.endpoint.substr(slashes + 3);
}

Http::~Http() = default;

std::unique_ptr<HttpLine> Http::take_line() {
    {
        const std::lock_guard lock(mutex_);
        if (!idle_.empty()) {
            auto line = std::move(idle_.back());
            idle_.pop_back();
            return line;
        }
    }
    return std::make_unique<HttpLine>();
}

void Http::give_back(std::unique_ptr<HttpLine> line) {
    // One whose answer was not read to its end would have to be emptied first.
    if (!line->whole()) return;
    const std::lock_guard lock(mutex_);
    idle_.push_back(std::move(line));
}

std::unique_ptr<Http::Incoming> Http::open(const HttpRequest& request) {
    auto line = take_line();
    line->begin(*this, pace_, request);
    return std::make_unique<Incoming>(*this, std::move(line));
}

Http::Incoming::Incoming(Http& http, std::unique_ptr<HttpLine> line)
    : http_(http), line_(std::move(line)) {}

Http::Incoming::~Incoming() {
    http_.give_back(std::move(line_));
}

const HttpAnswer& Http::Incoming::answer() const {
    return line_->answer;
}

std::size_t Http::Incoming::read(std::span<std::byte> into) {
    return line_->read(into);
}

void Http::Incoming::take_body() {
    constexpr std::size_t step = 16u << 10;
    std::string& body = line_->answer.body;
    for (;;) {
        const std::size_t before = body.size();
        body.resize(before + step);
        const std::size_t got =
            line_->read(std::as_writable_bytes(std::span(body).subspan(before, step)));
        body.resize(before + got);
        if (got == 0) return;
        if (body.size() > largest_body) {
            line_->answer.failure = "the answer is longer than any that is right";
            return;
        }
    }
}

}  // namespace glassine::store

#include "store/http_line.h"

#include "store/loopback.h"

#include <algorithm>
#include <cstring>
#include <utility>

#include <fmt/format.h>

namespace glassine::store {
namespace {

constexpr long buffer_size = 256L << 10;
constexpr int poll_ms = 200;
constexpr long connect_seconds = 20;

/// What may be gone the next time: all but what is wrong with the endpoint itself.
bool may_pass(CURLcode code) {
    switch (code) {
        case CURLE_UNSUPPORTED_PROTOCOL:
        case CURLE_URL_MALFORMAT:
        case CURLE_PEER_FAILED_VERIFICATION:
        case CURLE_SSL_CACERT_BADFILE:
        case CURLE_AUTH_ERROR:
        case CURLE_OUT_OF_MEMORY:
            return false;
        default:
            return true;
    }
}

std::string words_of(CURLcode code) {
    switch (code) {
        case CURLE_COULDNT_RESOLVE_HOST:
            return "its name is not known (is the computer online?)";
        case CURLE_COULDNT_CONNECT:
            return "nothing answers there";
        case CURLE_OPERATION_TIMEDOUT:
            return "it did not answer in time";
        case CURLE_PEER_FAILED_VERIFICATION:
            return "its certificate is not one that this computer trusts";
        case CURLE_SSL_CONNECT_ERROR:
            return "it makes no secure connection (does it speak HTTPS?)";
        case CURLE_SSL_CACERT_BADFILE:
            return "the file of certificates (ca_file) cannot be read";
        case CURLE_PARTIAL_FILE:
        case CURLE_GOT_NOTHING:
        case CURLE_RECV_ERROR:
        case CURLE_SEND_ERROR:
            return "the connection broke";
        default:
            return fmt::format("the connection failed ({})", curl_easy_strerror(code));
    }
}

}  // namespace

HttpLine::HttpLine() : easy_(curl_easy_init()), multi_(curl_multi_init()) {}

HttpLine::~HttpLine() {
    end_transfer();
}

void HttpLine::end_transfer() {
    if (std::exchange(attached_, false)) curl_multi_remove_handle(multi_.get(), easy_.get());
}

void HttpLine::begin(const Http& http, Pace& pace, const HttpRequest& request) {
    end_transfer();
    http_ = &http;
    pace_ = &pace;
    answer = {};
    spill_.clear();
    spilt_ = sent_ = got_ = 0;
    into_ = {};
    paused_ = headers_done_ = done_ = false;
    set_up(request);
    curl_multi_add_handle(multi_.get(), easy_.get());
    attached_ = true;
    work_until([this] { return headers_done_ && (paused_ || !spill_.empty()); });
}

void HttpLine::set_up(const HttpRequest& request) {
    CURL* const easy = easy_.get();
    curl_easy_reset(easy);
    std::string url =
        fmt::format("{}://{}{}{}", http_->scheme_, request.host_prefix, http_->host_, request.path);
    if (!request.query.empty()) url.append("?").append(request.query);
    const Settings& settings = http_->settings();
    curl_easy_setopt(easy, CURLOPT_URL, url.c_str());
    curl_easy_setopt(easy, CURLOPT_PATH_AS_IS, 1L);
    curl_easy_setopt(easy, CURLOPT_PROTOCOLS_STR, "http,https");
    curl_easy_setopt(easy, CURLOPT_HTTP_VERSION, static_cast<long>(CURL_HTTP_VERSION_1_1));
    curl_easy_setopt(easy, CURLOPT_NOSIGNAL, 1L);
    // A stop does not wait until somebody has looked the host's name up.
    curl_easy_setopt(easy, CURLOPT_QUICK_EXIT, 1L);
    curl_easy_setopt(easy, CURLOPT_BUFFERSIZE, buffer_size);
    curl_easy_setopt(easy, CURLOPT_UPLOAD_BUFFERSIZE, buffer_size);
    curl_easy_setopt(easy, CURLOPT_CONNECTTIMEOUT, connect_seconds);
    curl_easy_setopt(easy, CURLOPT_LOW_SPEED_LIMIT, 1L);
    curl_easy_setopt(easy, CURLOPT_LOW_SPEED_TIME, static_cast<long>(settings.patience.count()));
    if (!settings.ca_file.empty()) curl_easy_setopt(easy, CURLOPT_CAINFO, settings.ca_file.c_str());
    if (on_this_machine(http_->host_)) curl_easy_setopt(easy, CURLOPT_PROXY, "");
    curl_easy_setopt(easy, CURLOPT_AWS_SIGV4,
                     fmt::format("aws:amz:{}:s3", settings.region).c_str());
    curl_easy_setopt(easy, CURLOPT_USERNAME, http_->credentials_.access_key.c_str());
    curl_easy_setopt(easy, CURLOPT_PASSWORD, http_->credentials_.secret_key.c_str());
    curl_easy_setopt(easy, CURLOPT_HEADERFUNCTION, &HttpLine::on_header);
    curl_easy_setopt(easy, CURLOPT_HEADERDATA, this);
    curl_easy_setopt(easy, CURLOPT_WRITEFUNCTION, &HttpLine::on_body);
    curl_easy_setopt(easy, CURLOPT_WRITEDATA, this);
    set_headers(request);
    set_body(request);
}

void HttpLine::set_headers(const HttpRequest& request) {
    curl_slist* list = nullptr;
    const auto add = [&](const std::string& line) { list = curl_slist_append(list, line.c_str()); };
    add(fmt::format("Host: {}{}", request.host_prefix, http_->host_));
    for (const std::string& header : request.headers)
        add(header);
    if (!http_->credentials_.session_token.empty())
        add("x-amz-security-token: " + http_->credentials_.session_token);
    if (!http_->signing_date.empty()) add("X-Amz-Date: " + http_->signing_date);
    headers_.reset(list);
    curl_easy_setopt(easy_.get(), CURLOPT_HTTPHEADER, list);
}

void HttpLine::set_body(const HttpRequest& request) {
    CURL* const easy = easy_.get();
    body_ = request.body;
    if (request.method == "HEAD") {
        curl_easy_setopt(easy, CURLOPT_NOBODY, 1L);
        return;
    }
    if (request.method == "GET") return;
    if (request.method == "DELETE") {
        curl_easy_setopt(easy, CURLOPT_CUSTOMREQUEST, "DELETE");
        return;
    }
    curl_easy_setopt(easy, CURLOPT_READFUNCTION, &HttpLine::on_send);
    curl_easy_setopt(easy, CURLOPT_READDATA, this);
    curl_easy_setopt(easy, CURLOPT_SEEKFUNCTION, &HttpLine::on_seek);
    curl_easy_setopt(easy, CURLOPT_SEEKDATA, this);
    const auto size = static_cast<curl_off_t>(body_.size());
    if (request.method == "PUT") {
        curl_easy_setopt(easy, CURLOPT_UPLOAD, 1L);
        curl_easy_setopt(easy, CURLOPT_INFILESIZE_LARGE, size);
    } else {
        curl_easy_setopt(easy, CURLOPT_POST, 1L);
        curl_easy_setopt(easy, CURLOPT_POSTFIELDSIZE_LARGE, size);
    }
}

std::size_t HttpLine::on_header(char* data, std::size_t size, std::size_t count, void* self) {
    HttpLine& line = *static_cast<HttpLine*>(self);
    std::string_view text(data, size * count);
    if (text.starts_with("HTTP/")) {
        // Of several answers (100, then the real one) the last counts.
        line.answer.headers.clear();
        return text.size();
    }
    const std::size_t colon = text.find(':');
    if (colon == std::string_view::npos) {
        long status = 0;
        curl_easy_getinfo(line.easy_.get(), CURLINFO_RESPONSE_CODE, &status);
        line.answer.status = status;
        line.headers_done_ = status >= 200;
        return text.size();
    }
    std::string name(text.substr(0, colon));
    std::ranges::transform(name, name.begin(), [](char c) {
        return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    });
    std::string_view value = text.substr(colon + 1);
    constexpr std::string_view blank = " \t\r\n";
    const std::size_t begin = value.find_first_not_of(blank);
    value = begin == std::string_view::npos ? "" : value.substr(begin);
    value = value.substr(0, value.find_last_not_of(blank) + 1);
    line.answer.headers.insert_or_assign(std::move(name), std::string(value));
    return text.size();
}

std::size_t HttpLine::on_body(char* data, std::size_t size, std::size_t count, void* self) {
    HttpLine& line = *static_cast<HttpLine*>(self);
    const std::size_t length = size * count;
    if (line.spilt_ < line.spill_.size()) {
        line.paused_ = true;
        return CURL_WRITEFUNC_PAUSE;
    }
    line.spill_.clear();
    line.spilt_ = 0;
    const std::size_t now = std::min(length, line.into_.size() - line.got_);
    if (now > 0) std::memcpy(line.into_.data() + line.got_, data, now);
    line.got_ += now;
    line.spill_.assign(data + now, length - now);
    return length;
}

std::size_t HttpLine::on_send(char* into, std::size_t size, std::size_t count, void* self) {
    HttpLine& line = *static_cast<HttpLine*>(self);
    const std::size_t now =
        std::min({size * count, line.body_.size() - line.sent_, line.pace_->step()});
    line.pace_->take(now);
    if (now > 0) std::memcpy(into, line.body_.data() + line.sent_, now);
    line.sent_ += now;
    return now;
}

/// Only back to the beginning: a connection that was kept open turned out to be closed.
int HttpLine::on_seek(void* self, curl_off_t offset, int origin) {
    HttpLine& line = *static_cast<HttpLine*>(self);
    if (origin != SEEK_SET || offset < 0 || static_cast<std::size_t>(offset) > line.body_.size())
        return CURL_SEEKFUNC_FAIL;
    line.sent_ = static_cast<std::size_t>(offset);
    return CURL_SEEKFUNC_OK;
}

template <typename Enough>
void HttpLine::work_until(Enough enough) {
    while (!done_ && !enough()) {
        if (http_->stopped()) {
            answer.failure = "it was interrupted";
            answer.stopped = true;
            done_ = true;
            end_transfer();
            return;
        }
        int running = 0;
        curl_multi_perform(multi_.get(), &running);
        if (running == 0) return collect_result();
        if (!enough()) curl_multi_poll(multi_.get(), nullptr, 0, poll_ms, nullptr);
    }
}

void HttpLine::collect_result() {
    int left = 0;
    while (const CURLMsg* message = curl_multi_info_read(multi_.get(), &left)) {
        if (message->msg != CURLMSG_DONE) continue;
        const CURLcode code = message->data.result;
        if (code == CURLE_OK) continue;
        answer.failure = words_of(code);
        answer.may_pass = may_pass(code);
    }
    done_ = true;
    end_transfer();
}

std::size_t HttpLine::read(std::span<std::byte> into) {
    std::size_t got = std::min(spill_.size() - spilt_, into.size());
    if (got > 0) std::memcpy(into.data(), spill_.data() + spilt_, got);
    spilt_ += got;
    if (got == into.size() || done_) return got;
    into_ = into.subspan(got);
    got_ = 0;
    if (std::exchange(paused_, false)) curl_easy_pause(easy_.get(), CURLPAUSE_CONT);
    work_until([this] { return got_ == into_.size(); });
    got += got_;
    into_ = {};
    got_ = 0;
    return got;
}

}  // namespace glassine::store

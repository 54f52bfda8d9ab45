#pragma once

#include "store/http.h"
#include "store/pace.h"

#include <chrono>

namespace glassine::store {

// libcurl's handles are all `void`.
struct EasyCloser {
    void operator()(CURL* handle) const { curl_easy_cleanup(handle); }
};
struct MultiCloser {
    void operator()(CURLM* handle) const { curl_multi_cleanup(handle); }
};
struct ListCloser {
    void operator()(curl_slist* list) const { curl_slist_free_all(list); }
};

/// A connection and the transfer on it. Bytes come when they are asked for: what the line brings
/// beyond that waits in `spill_`, no more than one of libcurl's buffers.
class HttpLine {
  public:
    HttpLine();
    ~HttpLine();
    HttpLine(const HttpLine&) = delete;
    HttpLine& operator=(const HttpLine&) = delete;

    /// Sends the request; returns when the answer's headers are there, or it failed.
    void begin(const Http& http, Pace& pace, const HttpRequest& request);
    std::size_t read(std::span<std::byte> into);
    bool whole() const { return done_ && answer.failure.empty(); }

    HttpAnswer answer;

  private:
    static std::size_t on_header(char* data, std::size_t size, std::size_t count, void* self);
    static std::size_t on_body(char* data, std::size_t size, std::size_t count, void* self);
    static std::size_t on_send(char* into, std::size_t size, std::size_t count, void* self);
    static int on_seek(void* self, curl_off_t offset, int origin);

    void set_up(const HttpRequest& request);
    void set_headers(const HttpRequest& request);
    void set_body(const HttpRequest& request);
    /// Lets libcurl work until `enough` or the end.
    template <typename Enough>
    void work_until(Enough enough);
    void collect_result();
    void end_transfer();

    std::unique_ptr<CURL, EasyCloser> easy_;
    std::unique_ptr<CURLM, MultiCloser> multi_;
    std::unique_ptr<curl_slist, ListCloser> headers_;
    const Http* http_ = nullptr;
    Pace* pace_ = nullptr;
    std::span<const std::byte> body_;
    std::size_t sent_ = 0;
    std::span<std::byte> into_;
    std::size_t got_ = 0;
    std::string spill_;
    std::size_t spilt_ = 0;  ///< of `spill_`, given out already
    bool paused_ = false;
    bool headers_done_ = false;
    bool attached_ = false;
    bool done_ = false;
};

}  // namespace glassine::store

#pragma once

#include "glassine/store/settings.h"
#include "store/pace.h"

#include <cstddef>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <span>
#include <stop_token>
#include <string>
#include <string_view>
#include <vector>

#include <curl/curl.h>

namespace glassine::store {

/// One request as it goes over the line. Path and query are in the form that signatures are made
/// over: percent-encoded, the query's parameters in order of their names, each with its `=`.
struct HttpRequest {
    std::string method;
    std::string host_prefix;  ///< "BUCKET." where the bucket stands in the host's name
    std::string path;
    std::string query;                 ///< without `?`
    std::vector<std::string> headers;  ///< "name: value"
    std::span<const std::byte> body;   ///< must stay during the call
};

/// What came back. `failure` is not empty when there was no whole answer.
struct HttpAnswer {
    long status = 0;
    std::map<std::string, std::string, std::less<>> headers;  ///< names in small letters
    std::string body;                                         ///< as far as `take_body` has read it
    std::string failure;                                      ///< in words
    bool stopped = false;
    bool may_pass = false;  ///< with `failure`: worth another attempt
};

/// One connection after another to one host, by libcurl; used by one thread at a time.
class HttpLine;

/// Signs and sends requests. libcurl signs them (Signature Version 4): sound as long as it is given
/// path and query as they are to be signed, and the host with its port; docs/architecture.md tells
/// why.
class Http {
  public:
    Http(Settings settings, Credentials credentials, std::stop_token stop);
    ~Http();
    Http(const Http&) = delete;
    Http& operator=(const Http&) = delete;

    /// An answer whose body is fetched piece by piece.
    class Incoming {
      public:
        Incoming(Http& http, std::unique_ptr<HttpLine> line);
        ~Incoming();
        Incoming(const Incoming&) = delete;
        Incoming& operator=(const Incoming&) = delete;
        /// Status and headers; the whole answer where the request failed.
        const HttpAnswer& answer() const;
        /// More of the body; 0 at its end, or when it broke off: then `answer().failure` is set.
        std::size_t read(std::span<std::byte> into);
        /// Reads an error's body to its end, into `answer().body`.
        void take_body();

      private:
        Http& http_;
        std::unique_ptr<HttpLine> line_;
    };
    std::unique_ptr<Incoming> open(const HttpRequest& request);

    const Settings& settings() const { return settings_; }
    bool stopped() const { return stop_.stop_requested(); }

    /// Fixed for tests: the date that requests are signed for ("20130524T000000Z").
    std::string signing_date;

  private:
    friend class HttpLine;
    std::unique_ptr<HttpLine> take_line();
    void give_back(std::unique_ptr<HttpLine> line);

    Settings settings_;
    Credentials credentials_;
    std::stop_token stop_;
    std::string scheme_;
    std::string host_;  ///< with the port
    Pace pace_;
    std::mutex mutex_;
    std::vector<std::unique_ptr<HttpLine>> idle_;
};

}  // namespace glassine::store

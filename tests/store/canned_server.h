#pragma once

#include "glassine/store/client.h"
#include "store/requests.h"

#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <thread>
#include <utility>
#include <vector>

namespace glassine::store {

/// A request as it came over the line.
struct Asked {
    std::string method;
    std::string target;
    std::map<std::string, std::string> headers;  ///< names in small letters
    std::string body;
};

/// What goes back, byte for byte.
struct Canned {
    std::string bytes;
    bool cut = false;  ///< the connection ends behind it
};

/// "HTTP/1.1 200 OK" and so on; Content-Length is added unless it is among the headers.
Canned canned(int status, std::vector<std::string> headers = {}, std::string_view body = {});
/// An error in the form of Amazon S3 API Reference, "REST error responses".
Canned refusal(int status, std::string_view code, std::string_view more = {});

/// A server on 127.0.0.1 that says what it is told to.
class CannedServer {
  public:
    using Handler = std::function<Canned(const Asked&)>;
    explicit CannedServer(Handler handler);
    /// One answer after the other; the last again and again.
    explicit CannedServer(std::vector<Canned> answers);
    ~CannedServer();
    CannedServer(const CannedServer&) = delete;
    CannedServer& operator=(const CannedServer&) = delete;

    std::string endpoint() const;  ///< "http://127.0.0.1:PORT"
    std::vector<Asked> log() const;

  private:
    void accept_all();
    void serve(int connection);

    Handler handler_;
    int listener_ = -1;
    int port_ = 0;
    mutable std::mutex mutex_;
    std::vector<Asked> log_;
    std::vector<int> connections_;
    std::vector<std::thread> threads_;
    std::thread acceptor_;
};

/// Notes how long would have been waited, and does not.
class NoWait : public Backoff {
  public:
    explicit NoWait(std::vector<std::chrono::milliseconds>& waits) : waits_(waits) {}
    std::chrono::milliseconds before_next(unsigned) override { return {}; }
    void wait(std::chrono::milliseconds time, const std::function<bool()>&) override {
        waits_.push_back(time);
    }

  private:
    std::vector<std::chrono::milliseconds>& waits_;
};

/// A client of a canned server, and what it has waited.
struct Connected {
    explicit Connected(const std::string& endpoint, unsigned attempts = 3);

    std::stop_source stop;
    std::vector<std::chrono::milliseconds> waits;
    std::unique_ptr<Client> client;
};

}  // namespace glassine::store

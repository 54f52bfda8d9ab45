#pragma once

#include <cstdint>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

namespace glassine::test {

/// An HTTP server on this machine that gives one prepared answer after another, the last of them
/// for ever, and keeps what it was asked.
class ScriptedServer {
  public:
    /// Each answer as it goes over the line, headers and all. The connection is closed behind it.
    explicit ScriptedServer(std::vector<std::string> answers);
    ~ScriptedServer();
    ScriptedServer(const ScriptedServer&) = delete;
    ScriptedServer& operator=(const ScriptedServer&) = delete;

    std::uint16_t port() const { return port_; }
    std::string endpoint() const { return "http://127.0.0.1:" + std::to_string(port_); }
    /// Head and body of each request so far.
    std::vector<std::string> requests();

    /// A whole answer: "HTTP/1.1 STATUS", the headers (each ended by \r\n), the length and the
    /// body.
    static std::string answer(const std::string& status, const std::string& headers,
                              const std::string& body);

  private:
    void serve();
    void one(int connection);

    std::vector<std::string> answers_;
    int listening_ = -1;
    std::uint16_t port_ = 0;
    std::mutex mutex_;
    std::vector<std::string> requests_;
    std::thread thread_;
};

}  // namespace glassine::test

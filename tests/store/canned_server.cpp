#include "canned_server.h"

#include "store/http_client.h"

#include <algorithm>
#include <array>
#include <atomic>
#include <stdexcept>

#include <arpa/inet.h>
#include <fmt/format.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

namespace glassine::store {
namespace {

constexpr std::string_view blank_line = "\r\n\r\n";

/// More of the connection's bytes; false at its end.
bool receive(int connection, std::string& into) {
    std::array<char, 64 << 10> buffer{};
    const ssize_t got = recv(connection, buffer.data(), buffer.size(), 0);
    if (got <= 0) return false;
    into.append(buffer.data(), static_cast<std::size_t>(got));
    return true;
}

bool send_all(int connection, std::string_view bytes) {
    while (!bytes.empty()) {
        const ssize_t sent = send(connection, bytes.data(), bytes.size(), MSG_NOSIGNAL);
        if (sent <= 0) return false;
        bytes.remove_prefix(static_cast<std::size_t>(sent));
    }
    return true;
}

std::string lower(std::string text) {
    std::ranges::transform(text, text.begin(), [](unsigned char c) { return std::tolower(c); });
    return text;
}

Asked parsed(std::string_view head) {
    Asked asked;
    const std::string_view first = head.substr(0, head.find("\r\n"));
    const std::size_t one = first.find(' ');
    const std::size_t two = first.rfind(' ');
    asked.method = first.substr(0, one);
    asked.target = first.substr(one + 1, two - one - 1);
    head.remove_prefix(std::min(first.size() + 2, head.size()));
    while (!head.empty()) {
        const std::string_view line = head.substr(0, head.find("\r\n"));
        const std::size_t colon = line.find(':');
        if (colon != std::string_view::npos) {
            const std::size_t value = std::min(line.find_first_not_of(' ', colon + 1), line.size());
            asked.headers[lower(std::string(line.substr(0, colon)))] = line.substr(value);
        }
        head.remove_prefix(std::min(line.size() + 2, head.size()));
    }
    return asked;
}

CannedServer::Handler in_turn(std::vector<Canned> answers) {
    // Each connection asks from a thread of its own.
    const auto next = std::make_shared<std::atomic<std::size_t>>(0);
    return [answers = std::move(answers), next](const Asked&) {
        return answers.at(std::min((*next)++, answers.size() - 1));
    };
}

}  // namespace

Canned canned(int status, std::vector<std::string> headers, std::string_view body) {
    const bool has_length = std::ranges::any_of(
        headers, [](const std::string& line) { return line.starts_with("Content-Length:"); });
    if (!has_length) headers.push_back(fmt::format("Content-Length: {}", body.size()));
    std::string bytes = fmt::format("HTTP/1.1 {} Canned\r\n", status);
    for (const std::string& line : headers)
        bytes.append(line).append("\r\n");
    bytes.append("\r\n").append(body);
    return {bytes, false};
}

Canned refusal(int status, std::string_view code, std::string_view more) {
    return canned(status, {"Content-Type: application/xml"},
                  fmt::format("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<Error><Code>{}</Code>{}"
                              "</Error>",
                              code, more));
}

CannedServer::CannedServer(std::vector<Canned> answers)
    : CannedServer(in_turn(std::move(answers))) {}

CannedServer::CannedServer(Handler handler) : handler_(std::move(handler)) {
    listener_ = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t size = sizeof address;
    auto* const any = reinterpret_cast<sockaddr*>(&address);
    if (listener_ < 0 || bind(listener_, any, size) != 0 || listen(listener_, 64) != 0 ||
        getsockname(listener_, any, &size) != 0)
        throw std::runtime_error("no loopback to listen on");
    port_ = ntohs(address.sin_port);
    acceptor_ = std::thread([this] { accept_all(); });
}

CannedServer::~CannedServer() {
    shutdown(listener_, SHUT_RDWR);
    acceptor_.join();
    {
        const std::lock_guard lock(mutex_);
        for (const int connection : connections_)
            shutdown(connection, SHUT_RDWR);
    }
    for (std::thread& thread : threads_)
        thread.join();
    for (const int connection : connections_)
        close(connection);
    close(listener_);
}

std::string CannedServer::endpoint() const {
    return fmt::format("http://127.0.0.1:{}", port_);
}

std::vector<Asked> CannedServer::log() const {
    const std::lock_guard lock(mutex_);
    return log_;
}

void CannedServer::accept_all() {
    for (;;) {
        const int connection = accept4(listener_, nullptr, nullptr, SOCK_CLOEXEC);
        if (connection < 0) return;
        {
            const std::lock_guard lock(mutex_);
            connections_.push_back(connection);
        }
        threads_.emplace_back([this, connection] { serve(connection); });
    }
}

void CannedServer::serve(int connection) {
    std::string waiting;
    for (;;) {
        while (waiting.find(blank_line) == std::string::npos)
            if (!receive(connection, waiting)) return;
        const std::size_t head = waiting.find(blank_line);
        Asked asked = parsed(std::string_view(waiting).substr(0, head));
        waiting.erase(0, head + blank_line.size());
        if (asked.headers.contains("expect")) send_all(connection, "HTTP/1.1 100 Continue\r\n\r\n");
        const auto length = asked.headers.find("content-length");
        const std::size_t size = length == asked.headers.end() ? 0 : std::stoul(length->second);
        while (waiting.size() < size)
            if (!receive(connection, waiting)) return;
        asked.body = waiting.substr(0, size);
        waiting.erase(0, size);
        Canned answer;
        {
            const std::lock_guard lock(mutex_);
            log_.push_back(asked);
        }
        answer = handler_(asked);
        if (!send_all(connection, answer.bytes)) return;
        if (answer.cut) {
            shutdown(connection, SHUT_RDWR);
            return;
        }
    }
}

Connected::Connected(const std::string& endpoint, unsigned attempts) {
    Settings settings;
    settings.endpoint = endpoint;
    settings.attempts = attempts;
    client = http_client(settings, {"ACCESSKEYOFTESTS", "secret/of+tests", "token-of-tests"},
                         stop.get_token(), std::make_unique<NoWait>(waits));
}

}  // namespace glassine::store

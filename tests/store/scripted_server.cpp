#include "store/scripted_server.h"

#include <algorithm>
#include <array>
#include <stdexcept>

#include <arpa/inet.h>
#include <sys/socket.h>
#include <unistd.h>

namespace glassine::test {
namespace {

void send_all(int connection, const std::string& text) {
    for (std::size_t at = 0; at < text.size();) {
        const auto n = ::send(connection, text.data() + at, text.size() - at, MSG_NOSIGNAL);
        if (n <= 0) return;
        at += static_cast<std::size_t>(n);
    }
}

std::size_t length_of_body(const std::string& head) {
    constexpr std::string_view name = "\r\nContent-Length: ";
    const std::size_t at = head.find(name);
    return at == std::string::npos ? 0 : std::stoul(head.substr(at + name.size()));
}

}  // namespace

ScriptedServer::ScriptedServer(std::vector<std::string> answers)
    : answers_(std::move(answers)), listening_(::socket(AF_INET, SOCK_STREAM, 0)) {
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t size = sizeof address;
    auto* const any = reinterpret_cast<sockaddr*>(&address);
    if (::bind(listening_, any, size) != 0 || ::listen(listening_, 16) != 0 ||
        ::getsockname(listening_, any, &size) != 0)
        throw std::runtime_error("no server on this machine");
    port_ = ntohs(address.sin_port);
    thread_ = std::thread([this] { serve(); });
}

ScriptedServer::~ScriptedServer() {
    ::shutdown(listening_, SHUT_RDWR);
    thread_.join();
    ::close(listening_);
}

std::vector<std::string> ScriptedServer::requests() {
    const std::lock_guard lock(mutex_);
    return requests_;
}

std::string ScriptedServer::answer(const std::string& status, const std::string& headers,
                                   const std::string& body) {
    return "HTTP/1.1 " + status + "\r\n" + headers +
           "Content-Length: " + std::to_string(body.size()) + "\r\nConnection: close\r\n\r\n" +
           body;
}

void ScriptedServer::serve() {
    for (;;) {
        const int connection = ::accept(listening_, nullptr, nullptr);
        if (connection < 0) return;
        one(connection);
        ::close(connection);
    }
}

void ScriptedServer::one(int connection) {
    std::string request;
    std::array<char, 65536> buffer{};
    std::size_t head = std::string::npos;
    while (head == std::string::npos || request.size() < head + 4 + length_of_body(request)) {
        const auto n = ::recv(connection, buffer.data(), buffer.size(), 0);
        if (n <= 0) return;
        request.append(buffer.data(), static_cast<std::size_t>(n));
        head = request.find("\r\n\r\n");
    }
    std::string now;
    {
        const std::lock_guard lock(mutex_);
        now = answers_[std::min(requests_.size(), answers_.size() - 1)];
        requests_.push_back(std::move(request));
    }
    send_all(connection, now);
}

}  // namespace glassine::test

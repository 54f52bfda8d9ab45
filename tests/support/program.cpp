#include "support/program.h"

#include <array>
#include <cerrno>
#include <csignal>
#include <cstdlib>
#include <stdexcept>

#include <fcntl.h>
#include <poll.h>
#include <sys/wait.h>
#include <unistd.h>

namespace glassine::test {
namespace {

constexpr int most_milliseconds = 120'000;

struct Pipe {
    Pipe() {
        if (::pipe2(ends, O_CLOEXEC) != 0) throw std::runtime_error("no pipe");
    }
    int ends[2];
};

[[noreturn]] void become(const RunningProgram::Start& start, int out, int err) {
    // Signals that the test blocks or ignores are none of the program's business.
    sigset_t none;
    sigemptyset(&none);
    ::sigprocmask(SIG_SETMASK, &none, nullptr);
    ::signal(SIGPIPE, SIG_DFL);
    ::dup2(out, STDOUT_FILENO);
    ::dup2(err, STDERR_FILENO);
    const int nothing = ::open("/dev/null", O_RDONLY);
    ::dup2(nothing, STDIN_FILENO);
    if (!start.folder.empty() && ::chdir(start.folder.c_str()) != 0) ::_exit(126);
    // No test reaches the register of the person who runs it: nothing can be made here.
    ::setenv("XDG_DATA_HOME", "/dev/null/none", 1);
    for (const auto& [name, value] : start.environment)
        ::setenv(name.c_str(), value.c_str(), 1);
    std::vector<char*> arguments;
    for (const std::string& part : start.command)
        arguments.push_back(const_cast<char*>(part.c_str()));
    arguments.push_back(nullptr);
    ::execvp(arguments[0], arguments.data());
    ::_exit(127);
}

/// Reads what is there; false at the end of the pipe.
bool drain(int fd, std::string& into) {
    std::array<char, 16384> piece{};
    const ssize_t n = ::read(fd, piece.data(), piece.size());
    if (n < 0) return errno == EINTR || errno == EAGAIN;
    into.append(piece.data(), static_cast<std::size_t>(n));
    return n > 0;
}

void close_end(int& fd) {
    if (fd >= 0) ::close(fd);
    fd = -1;
}

}  // namespace

RunningProgram::RunningProgram(const Start& start) {
    Pipe out;
    Pipe err;
    pid_ = ::fork();
    if (pid_ < 0) throw std::runtime_error("cannot start " + start.command.front());
    if (pid_ == 0) become(start, out.ends[1], err.ends[1]);
    ::close(out.ends[1]);
    ::close(err.ends[1]);
    out_ = out.ends[0];
    err_ = err.ends[0];
    if (start.no_reader) close_end(out_);
}

RunningProgram::~RunningProgram() {
    if (pid_ > 0) {
        ::kill(pid_, SIGKILL);
        ::waitpid(pid_, nullptr, 0);
    }
    close_end(out_);
    close_end(err_);
}

void RunningProgram::send(int signal) {
    ::kill(pid_, signal);
}

/// One round of collecting; false when both outputs have ended.
bool RunningProgram::collect_some() {
    std::array<pollfd, 2> ends{{{out_, POLLIN, 0}, {err_, POLLIN, 0}}};
    const int ready = ::poll(ends.data(), ends.size(), most_milliseconds);
    if (ready == 0) throw std::runtime_error("the program does not come to an end");
    if (ends[0].revents != 0 && !drain(out_, ended_.out)) close_end(out_);
    if (ends[1].revents != 0 && !drain(err_, ended_.err)) close_end(err_);
    return out_ >= 0 || err_ >= 0;
}

RunningProgram::Ended RunningProgram::wait() {
    while (out_ >= 0 || err_ >= 0)
        collect_some();
    int status = 0;
    while (::waitpid(pid_, &status, 0) < 0 && errno == EINTR) {
    }
    pid_ = -1;
    if (WIFEXITED(status)) ended_.code = WEXITSTATUS(status);
    if (WIFSIGNALED(status)) ended_.signal = WTERMSIG(status);
    return ended_;
}

bool RunningProgram::wait_for_error_text(const std::string& text) {
    while (ended_.err.find(text) == std::string::npos)
        if (!collect_some()) return ended_.err.find(text) != std::string::npos;
    return true;
}

RunningProgram::Ended run(const std::vector<std::string>& command,
                          const std::filesystem::path& folder,
                          const std::map<std::string, std::string>& environment) {
    return RunningProgram({command, environment, folder, false}).wait();
}

}  // namespace glassine::test

#include "cli/command_line.h"

#include <exception>
#include <thread>
#include <utility>

#include <malloc.h>
#include <pthread.h>
#include <signal.h>
#include <unistd.h>

namespace {

using glassine::cli::complain;

/// Waits for Ctrl-C and friends on a thread of its own: the first asks the work to stop and tidy
/// up, the second ends the program at once.
class SignalWatch {
  public:
    explicit SignalWatch(std::stop_source stop) {
        sigemptyset(&signals_);
        for (const int signal : {SIGINT, SIGTERM, SIGHUP})
            sigaddset(&signals_, signal);
        pthread_sigmask(SIG_BLOCK, &signals_, nullptr);
        std::thread([signals = signals_, stop = std::move(stop)]() mutable {
            int signal = 0;
            sigwait(&signals, &signal);
            complain("stopping; press Ctrl-C again to stop without tidying up");
            stop.request_stop();
            sigwait(&signals, &signal);
            ::_exit(130);
        }).detach();
    }

  private:
    sigset_t signals_{};
};

/// Buffers of some megabytes (parts of an upload, pictures) come and go on many threads. The GNU
/// library would soon keep them for later, in a heap for each thread; with a fixed limit they go
/// back at once (mallopt(3)), and the memory of a run stays what its budgets say. What is smaller
/// comes and goes all the time: a fixed limit would have it trimmed from its heap with each file.
void give_large_buffers_back() {
#ifdef __GLIBC__
    constexpr int limit = 1 << 20;  // bytes
    ::mallopt(M_MMAP_THRESHOLD, limit);
    ::mallopt(M_TRIM_THRESHOLD, 2 * limit);
#endif
}

}  // namespace

int main(int argc, char** argv) {
    // A reader of our output that goes away must not kill a close-out half way.
    ::signal(SIGPIPE, SIG_IGN);
    give_large_buffers_back();
    glassine::cli::Program program;
    const SignalWatch watch(program.stop);
    try {
        return glassine::cli::run_command_line(program, argc, argv);
    } catch (const std::exception& error) {
        complain(std::string("something went wrong inside the program (") + error.what() +
                 "); nothing of yours was changed; please report this");
        return 3;
    }
}

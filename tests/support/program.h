#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include <sys/types.h>

namespace glassine::test {

/// A program that is running, its two outputs caught. Killed at the end of the scope if need be.
class RunningProgram {
  public:
    struct Start {
        std::vector<std::string> command;                ///< the first part: what to run
        std::map<std::string, std::string> environment;  ///< set on top of the test's own
        std::filesystem::path folder;                    ///< to run in; empty: the test's own
        bool no_reader = false;  ///< standard output is a pipe whose reader has gone
    };
    explicit RunningProgram(const Start& start);
    RunningProgram(const RunningProgram&) = delete;
    RunningProgram& operator=(const RunningProgram&) = delete;
    ~RunningProgram();

    void send(int signal);
    /// Collects the outputs until the program ends. Fails the test after two minutes.
    struct Ended {
        int code = -1;    ///< the exit code; -1 when a signal ended it
        int signal = 0;   ///< that signal
        std::string out;  ///< standard output
        std::string err;  ///< standard error
    };
    Ended wait();
    /// Collects the outputs until `text` stands in standard error; false when the program ends
    /// before it does.
    bool wait_for_error_text(const std::string& text);

  private:
    bool collect_some();

    pid_t pid_ = -1;
    int out_ = -1;
    int err_ = -1;
    Ended ended_;
};

/// Runs a program to its end.
RunningProgram::Ended run(const std::vector<std::string>& command,
                          const std::filesystem::path& folder = {},
                          const std::map<std::string, std::string>& environment = {});

}  // namespace glassine::test

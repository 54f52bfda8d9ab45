#pragma once

#include "support/program.h"
#include "support/small_job.h"
#include "support/temp_folder.h"

#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

/// The real program, as a person at a command line has it.
namespace glassine::test {

using Json = nlohmann::json;
using Arguments = std::vector<std::string>;

inline constexpr const char* bag_name = "2025-06-14_maren-holt-tomas-brandvik_harbour-gala";

/// A home of one's own: no setting of the person who runs the tests reaches the program.
class Home {
  public:
    std::map<std::string, std::string> environment() const;
    /// A small job, not there before it is asked for.
    std::filesystem::path job(const JobSize& size = {}) const;
    /// An empty folder that stands for a drive.
    std::filesystem::path drive(const std::string& name) const;
    std::filesystem::path operator/(std::string_view name) const { return folder_ / name; }
    const TempFolder& folder() const { return folder_; }

    RunningProgram::Start start(const Arguments& arguments) const;
    RunningProgram::Ended glassine(const Arguments& arguments) const;
    /// Starts it, and sends each signal when its text stands in standard error. On a busy machine
    /// the program may be quicker than a signal: then `reset` puts everything back, and it is done
    /// again.
    struct Interruption {
        std::string moment;
        int signal = 0;
    };
    RunningProgram::Ended interrupted(const Arguments& arguments,
                                      const std::vector<Interruption>& interruptions,
                                      const std::function<void()>& reset) const;
    /// What it says with `--json`; fails the test when it ends with another code.
    Json ask(Arguments arguments, int code = 0) const;

    /// An empty folder that is a volume of the shelf, labelled "SHELF-NAME".
    std::filesystem::path volume(const std::string& name, const std::string& kind = "drive",
                                 const std::string& place = "cupboard B") const;

    /// The command line that closes `job` out onto `drives`.
    static Arguments closeout(const std::filesystem::path& job,
                              const std::vector<std::filesystem::path>& drives,
                              const Arguments& more = {});
    /// Closes a small job out and gives the bag's folder.
    std::filesystem::path sealed_bag(const std::string& drive_name = "drive-a") const;

  private:
    TempFolder folder_;
};

/// One JSON document and nothing else.
Json json_of(const RunningProgram::Ended& ended);

/// The findings of `findings` (a JSON array) that are of this kind, by path.
std::vector<std::string> paths_of(const Json& findings, const std::string& kind);

inline bool contains(const std::string& text, const std::string& part) {
    return text.find(part) != std::string::npos;
}

/// A test that cannot be made on this machine says so and passes.
#define CANNOT_TEST_HERE(why)  \
    do {                       \
        WARN("SKIPPED: " why); \
        return;                \
    } while (false)

}  // namespace glassine::test

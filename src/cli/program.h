#pragma once

#include "cli/object_store.h"
#include "glassine/journeys/context.h"
#include "glassine/report/results.h"
#include "glassine/report/terminal.h"

#include <cstdint>
#include <functional>
#include <memory>
#include <span>
#include <stop_token>
#include <string>
#include <string_view>
#include <vector>

namespace CLI {
class App;
}

namespace glassine::cli {

/// What the program is started with: everything a command may ask of its surroundings.
struct Program {
    // Options that every command takes.
    std::string studio_file;
    std::string register_file;
    std::string color = "auto";
    bool json = false;
    bool quiet = false;

    /// Bytes a second that an object store is sent at most, for the commands that take --rate; 0:
    /// as the studio file says.
    std::uint64_t store_rate = 0;

    std::stop_source stop;
    /// Set by the command that was chosen; runs it and gives the exit code.
    std::function<int(Program&)> run;

    /// What journeys work with: reads the studio file, names the person, shows progress.
    journeys::Context context();
    report::TerminalStyle style() const;

    /// Prints a result (as JSON or text) on standard output. `asked_for`: the text is what the user
    /// wants to know, so that --quiet does not hold it back.
    template <typename Result>
    int show(const Result& result, bool asked_for = false);

  private:
    std::unique_ptr<journeys::Monitor> monitor_;
    std::unique_ptr<ObjectStore> store_;
};

/// Writes to standard output; a reader that has gone away is no error.
void print(std::string_view text);
/// One line on standard error, in the program's voice.
void complain(std::string_view message);

/// A command: its words for help and manual, its options, what it does.
struct Command {
    std::string_view name;
    std::string_view summary;      ///< one line, no full stop
    std::string_view description;  ///< paragraphs, separated by an empty line
    struct Example {
        std::string_view line;  ///< as typed
        std::string_view says;  ///< what it does
    };
    std::vector<Example> examples;
    /// Adds options and arguments; the returned function runs the command. Empty for a command that
    /// only has commands below it.
    std::function<std::function<int(Program&)>(CLI::App&)> declare;
    std::vector<Command> commands{};  ///< below this one: `shelf add`
};

/// All commands, in the order in which help lists them.
const std::vector<Command>& commands();

Command preflight_command();
Command closeout_command();
Command audit_command();
Command inspect_command();
Command mend_command();
Command restore_command();
Command migrate_command();
Command clear_command();
Command shelf_command();
Command shelf_dates_command();

}  // namespace glassine::cli

#include "cli/show.h"

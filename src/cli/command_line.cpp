#include "cli/command_line.h"

#include "cli/application.h"
#include "cli/page.h"
#include "glassine/base/text.h"

#include <algorithm>

#include <CLI/CLI.hpp>
#include <fmt/format.h>

namespace glassine::cli {
namespace {

constexpr int wrong_command_line = 2;
/// The command that was named last: `shelf add`.
const CLI::App& chosen_of(const CLI::App& app) {
    const auto chosen = app.get_subcommands();
    return chosen.empty() ? app : chosen_of(*chosen.front());
}

/// "did you mean" for a command that is none.
std::string hint_for(const CLI::App& app) {
    const CLI::App& chosen = chosen_of(app);
    std::vector<std::string> names;
    for (const CLI::App* below : chosen.get_subcommands({}))
        names.push_back(below->get_name());
    const auto left = app.remaining(true);
    const auto word = std::ranges::find_if(left, [](auto& w) { return !w.starts_with("-"); });
    if (names.empty() || word == left.end()) return "";
    return fmt::format("there is no command \"{}\"; did you mean \"{}\"?",
                       text::for_terminal(*word), text::nearest(*word, names));
}

int complain_about(const CLI::ParseError& error, const CLI::App& app) {
    const std::string hint = hint_for(app);
    complain(hint.empty() ? text::for_terminal(error.what()) : hint);
    complain(fmt::format("see `{} --help`", page_of(chosen_of(app)).command_line()));
    return wrong_command_line;
}

int run_chosen(Program& program) {
    try {
        return program.run(program);
    } catch (const Error& error) {
        complain(error.what());
        if (error.cause() == Cause::usage) return wrong_command_line;
        if (error.cause() == Cause::interrupted)
            return static_cast<int>(report::Ending::interrupted);
        return static_cast<int>(report::Ending::failed);
    }
}

}  // namespace

int run_command_line(Program& program, int argc, const char* const* argv) {
    const auto app = application(program);
    try {
        app->parse(argc, argv);
    } catch (const CLI::Success& success) {
        return app->exit(success);
    } catch (const CLI::ParseError& error) {
        return complain_about(error, *app);
    }
    if (!program.run) {
        print(app->help());
        return wrong_command_line;
    }
    return run_chosen(program);
}

}  // namespace glassine::cli

#include "cli/application.h"

#include "cli/help_text.h"
#include "cli/page.h"
#include "glassine/base/version.h"

#include <CLI/CLI.hpp>

namespace glassine::cli {
namespace {

/// Our own help text, of the page that the manual is made of too.
class HelpFormatter : public CLI::FormatterBase {
  public:
    std::string make_help(const CLI::App* app, std::string, CLI::AppFormatMode) const override {
        return help_text(page_of(*app));
    }
};

void add_common_options(CLI::App& app, Program& program) {
    app.add_option("--register", program.register_file,
                   "The shelf's register (default: glassine/register.db in the user's data "
                   "folder)")
        ->option_text("FILE");
    app.add_option("--studio", program.studio_file,
                   "The studio file (default: glassine/studio.toml in the user's "
                   "configuration folder)")
        ->option_text("FILE");
    app.add_option("--color", program.color, "When to use colour: auto, always or never")
        ->check(CLI::IsMember({"auto", "always", "never"}))
        ->option_text("WHEN");
    app.add_flag("--json", program.json,
                 "Print the result as one JSON document on standard output");
    app.add_flag("-q,--quiet", program.quiet, "No progress, and no word when all is well");
}

/// An option that may be given several times takes one value each time: what follows the value is
/// not its own (`--to DEST JOB`).
void take_one_value_each(CLI::App& app) {
    for (CLI::Option* option : app.get_options())
        if (option->nonpositional() && option->get_expected_max() > 1)
            option->allow_extra_args(false);
}

void add_command(CLI::App& parent, const Command& command, Program& program) {
    CLI::App* app = parent.add_subcommand(std::string(command.name), std::string(command.summary));
    app->fallthrough();
    app->set_help_flag("-h,--help", "Show this help");
    if (command.declare) {
        const auto run = command.declare(*app);
        app->callback([&program, run] { program.run = run; });
        take_one_value_each(*app);
    }
    app->require_subcommand(0, 1);
    for (const Command& part : command.commands)
        add_command(*app, part, program);
}

}  // namespace

std::unique_ptr<CLI::App> application(Program& program) {
    auto app = std::make_unique<CLI::App>(
        "Keeps delivered photo jobs whole for decades: seals them, and proves years later that "
        "every picture is still what was sealed.");
    app->name("glassine");
    app->formatter(std::make_shared<HelpFormatter>());
    app->set_version_flag("--version", "glassine " + std::string(version()), "Show the version");
    app->set_help_flag("-h,--help", "Show this help");
    add_common_options(*app, program);
    app->fallthrough();
    app->require_subcommand(0, 1);
    for (const Command& command : commands())
        add_command(*app, command, program);
    return app;
}

}  // namespace glassine::cli

#include "cli/page.h"

#include "cli/program.h"

#include <algorithm>
#include <array>

#include <CLI/CLI.hpp>

namespace glassine::cli {
namespace {

std::vector<std::string> words_of(const CLI::App& app) {
    std::vector<std::string> words;
    for (const CLI::App* a = &app; a != nullptr; a = a->get_parent())
        words.insert(words.begin(), a->get_name());
    return words;
}

/// What `commands()` says about it; null for the program itself.
const Command* command_of(std::span<const std::string> words) {
    const Command* command = nullptr;
    const std::vector<Command>* among = &commands();
    for (const std::string& word : words.subspan(1)) {
        command = &*std::ranges::find(*among, word, &Command::name);
        among = &command->commands;
    }
    return command;
}

/// "{auto,always,never}" in the parser's name of the value's type.
std::vector<std::string> choices_of(const CLI::Option& option) {
    const std::string type = option.get_type_name();
    const std::size_t open = type.find('{');
    const std::size_t close = type.find('}');
    if (open == std::string::npos || close == std::string::npos) return {};
    return CLI::detail::split(type.substr(open + 1, close - open - 1), ',');
}

Argument argument_of(const CLI::Option& option) {
    Argument out;
    for (const std::string& name : option.get_snames())
        out.names.push_back("-" + name);
    for (const std::string& name : option.get_lnames())
        out.names.push_back("--" + name);
    if (option.get_positional())
        out.value = option.get_single_name();
    else if (option.get_type_size() > 0)
        out.value = option.get_option_text();
    out.says = option.get_description();
    out.choices = choices_of(option);
    out.required = option.get_required();
    out.repeats = option.get_type_size() > 0 && option.get_expected_max() > 1;
    return out;
}

bool is_common(const CLI::Option& option) {
    return !option.check_lname("help") && !option.check_lname("version");
}

const CLI::App& program_of(const CLI::App& app) {
    const CLI::App* at = &app;
    while (at->get_parent() != nullptr)
        at = at->get_parent();
    return *at;
}

void add_options(Page& page, const CLI::App& app) {
    for (const CLI::Option* option : app.get_options()) {
        if (option->get_positional())
            page.arguments.push_back(argument_of(*option));
        else if (page.is_program() && is_common(*option))
            page.common.push_back(argument_of(*option));
        else
            page.options.push_back(argument_of(*option));
    }
    if (page.is_program()) return;
    for (const CLI::Option* option : program_of(app).get_options())
        if (is_common(*option)) page.common.push_back(argument_of(*option));
}

}  // namespace

Page page_of(const CLI::App& app) {
    Page page;
    page.words = words_of(app);
    page.summary = app.get_description();
    if (const Command* command = command_of(page.words)) {
        page.description = command->description;
        for (const Command::Example& e : command->examples)
            page.examples.push_back({std::string(e.line), std::string(e.says)});
    }
    add_options(page, app);
    for (const CLI::App* below : app.get_subcommands({}))
        page.commands.push_back(page_of(*below));
    return page;
}

std::string Page::command_line() const {
    return CLI::detail::join(words, " ");
}

std::string Page::synopsis() const {
    std::string out = command_line() + " [OPTIONS]";
    for (const Argument& a : arguments) {
        const std::string name = a.value + (a.repeats ? "..." : "");
        out += a.required ? " " + name : " [" + name + "]";
    }
    if (!commands.empty()) out += " COMMAND";
    return out;
}

std::span<const ExitCode> exit_codes() {
    static constexpr std::array<ExitCode, 5> codes{
        {{0, "all is as it should be"},
         {1,
          "something needs attention: damage, a bag not valid, a job not ready, a card not clear, "
          "something due"},
         {2, "the command line is wrong"},
         {3, "the work could not be done: cannot read, cannot write, no space"},
         {130, "interrupted"}}};
    return codes;
}

std::string broken_line(std::string_view line, std::size_t columns, std::string_view indent) {
    std::string out(indent);
    std::size_t used = indent.size();
    while (!line.empty()) {
        const std::size_t next = std::min(line.find(" --", 1), line.size());
        const std::string_view piece = line.substr(0, next);
        if (used > indent.size() && used + piece.size() + 2 > columns) {
            out += " \\\n" + std::string(indent) + "    ";
            used = indent.size() + 4;
            out += piece.substr(1);
            used += piece.size() - 1;
        } else {
            out += piece;
            used += piece.size();
        }
        line.remove_prefix(next);
    }
    return out;
}

}  // namespace glassine::cli

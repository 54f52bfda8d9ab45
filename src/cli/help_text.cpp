#include "cli/help_text.h"

#include <algorithm>

#include <fmt/format.h>

namespace glassine::cli {
namespace {

constexpr std::size_t columns = 80;
constexpr std::size_t second_column = 28;

/// Words of one paragraph in lines of at most 80 characters; `used` of the first line are taken.
std::string wrapped(std::string_view paragraph, std::size_t indent, std::size_t used) {
    std::string out;
    std::size_t at = 0;
    bool fresh = true;
    while (at < paragraph.size()) {
        const std::size_t end = std::min(paragraph.find(' ', at), paragraph.size());
        const std::string_view word = paragraph.substr(at, end - at);
        if (!fresh && used + 1 + word.size() > columns) {
            out += "\n" + std::string(indent, ' ');
            used = indent;
            fresh = true;
        }
        if (!fresh) out += ' ';
        out += word;
        used += word.size() + (fresh ? 0 : 1);
        fresh = false;
        at = end + 1;
    }
    return out + "\n";
}

std::string paragraphs(std::string_view text) {
    std::string out;
    while (!text.empty()) {
        const std::size_t end = std::min(text.find("\n\n"), text.size());
        if (!out.empty()) out += "\n";
        out += wrapped(text.substr(0, end), 0, 0);
        text.remove_prefix(std::min(end + 2, text.size()));
    }
    return out;
}

std::string examples(const Page& page) {
    if (page.examples.empty()) return "";
    std::string out = "\nExamples:\n";
    for (const Page::Example& e : page.examples)
        out += "  " + wrapped(e.says + ":", 2, 2) + broken_line(e.line, columns, "    ") + "\n";
    return out;
}

/// "  --to DEST                A folder on the drive to write to …"
std::string row(const std::string& name, std::string_view says) {
    std::string out = "  " + name;
    if (out.size() + 2 > second_column)
        out += "\n" + std::string(second_column, ' ');
    else
        out.resize(second_column, ' ');
    return out + wrapped(says, second_column, second_column);
}

std::string name_of(const Argument& a) {
    std::string out;
    for (const std::string& name : a.names)
        out += (out.empty() ? "" : ", ") + name;
    if (a.names.empty()) return a.value + (a.repeats ? "..." : "");
    return a.value.empty() ? out : out + " " + a.value;
}

std::string rows(std::string_view title, const std::vector<Argument>& arguments) {
    if (arguments.empty()) return "";
    std::string out = fmt::format("\n{}:\n", title);
    for (const Argument& a : arguments)
        out += row(name_of(a), a.says + (a.required && !a.names.empty() ? " (required)" : ""));
    return out;
}

std::string command_rows(const Page& page) {
    if (page.commands.empty()) return "";
    std::string out = "\nCommands:\n";
    for (const Page& command : page.commands)
        out += row(command.words.back(), command.summary);
    return out;
}

/// What every help ends with: where there is more, and the exit codes.
std::string closing(const Page& page) {
    std::string out = "\n";
    if (!page.commands.empty())
        out += fmt::format("`{} COMMAND --help` tells more, with examples.\n", page.command_line());
    std::string codes = "Exit codes:";
    for (const ExitCode& e : exit_codes())
        codes += fmt::format("{} {} {}", e.code == 0 ? "" : ";", e.code, e.means);
    return out + wrapped(codes + ".", 0, 0);
}

}  // namespace

std::string help_text(const Page& page) {
    std::string out = paragraphs(page.description.empty() ? page.summary : page.description);
    out += examples(page);
    out += "\nUsage: " + page.synopsis() + "\n";
    if (page.is_program()) out += command_rows(page);
    out += rows("Arguments", page.arguments);
    out += rows("Options", page.options);
    if (!page.is_program()) out += command_rows(page);
    out += rows("Options of every command", page.common);
    return out + closing(page);
}

}  // namespace glassine::cli

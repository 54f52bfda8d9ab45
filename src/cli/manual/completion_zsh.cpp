#include "cli/manual/completion.h"

#include <algorithm>

#include <fmt/format.h>

namespace glassine::cli {
namespace {

/// "_glassine_shelf_add".
std::string function_of(const Page& page) {
    std::string out;
    for (const std::string& word : page.words)
        out += "_" + word;
    std::ranges::replace(out, '-', '_');
    return out;
}

/// Text within '…' of a specification of _arguments, where : [ ] mean something.
std::string text_of(std::string_view text) {
    std::string out;
    for (const char c : text) {
        if (c == '\'')
            out += "'\\''";
        else if (c == ':' || c == '[' || c == ']')
            out += std::string("\\") + c;
        else
            out += c;
    }
    return out;
}

/// ":FILE:_files": message and action for a value.
std::string value_of(const Argument& a) {
    std::string action = " ";
    switch (offer_for(a)) {
        case Offer::files:
            action = "_files";
            break;
        case Offer::folders:
            action = "_files -/";
            break;
        case Offer::words: {
            std::string words;
            for (const std::string& word : words_for(a))
                words += (words.empty() ? "" : " ") + word;
            action = "(" + words + ")";
            break;
        }
        case Offer::nothing:
            break;
    }
    return fmt::format(":{}:{}", text_of(a.value), action);
}

/// One specification for each name of an option; a name given once is not offered again.
std::string specifications(const Argument& a) {
    std::string all;
    for (const std::string& name : a.names)
        all += (all.empty() ? "" : " ") + name;
    std::string out;
    for (const std::string& name : a.names) {
        const std::string once = a.repeats ? "*" : "(" + all + ")";
        const bool with_value = !a.value.empty();
        out += fmt::format(" \\\n        '{}{}{}[{}]{}'", once, name, with_value ? "=" : "",
                           text_of(a.says), with_value ? value_of(a) : "");
    }
    return out;
}

std::string command_function(const Page& page) {
    std::string out = fmt::format("{}() {{\n    _arguments -s", function_of(page));
    for (const Argument& a : all_options(page))
        out += specifications(a);
    for (const Argument& a : page.arguments)
        out += fmt::format(" \\\n        '{}{}'", a.repeats ? "*" : "", value_of(a));
    return out + "\n}\n\n";
}

/// A function that offers the commands below and hands on to theirs.
std::string group_function(const Page& page) {
    std::string out = fmt::format(
        "{}() {{\n    local curcontext=$curcontext state line\n    typeset -A opt_args\n"
        "    _arguments -s -C",
        function_of(page));
    for (const Argument& a : all_options(page))
        out += specifications(a);
    out += " \\\n        '1: :->command' \\\n        '*:: :->rest'\n";
    out += "    case $state in\n    command)\n        local -a commands=(";
    for (const Page& below : page.commands)
        out += fmt::format("\n            '{}:{}'", below.words.back(), text_of(below.summary));
    out += "\n        )\n        _describe command commands\n        ;;\n    rest)\n";
    out += "        case $line[1] in\n";
    for (const Page& below : page.commands)
        out += fmt::format("        {}) {} ;;\n", below.words.back(), function_of(below));
    return out + "        esac\n        ;;\n    esac\n}\n\n";
}

}  // namespace

std::string zsh_completion(const Page& program) {
    std::string out =
        "#compdef glassine\n# Completion of glassine for zsh, made from what `glassine --help` "
        "says.\n\n";
    for (const Page* page : all_pages(program))
        out += page->commands.empty() ? command_function(*page) : group_function(*page);
    return out + "_glassine \"$@\"\n";
}

}  // namespace glassine::cli

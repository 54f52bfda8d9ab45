#include "cli/manual/completion.h"

#include <set>

#include <fmt/format.h>

namespace glassine::cli {
namespace {

/// Text within '…' (fish: Quotes).
std::string quoted(std::string_view text) {
    std::string out = "'";
    for (const char c : text) {
        if (c == '\'' || c == '\\') out += '\\';
        out += c;
    }
    return out + "'";
}

std::string line(const Page* page, const std::string& rest) {
    if (page == nullptr) return "complete -c glassine " + rest + "\n";
    return fmt::format("complete -c glassine -n \"__glassine_at '{}'\" {}\n", page->command_line(),
                       rest);
}

/// What may follow an option, or stand at an argument's place.
std::string offer(const Argument& a) {
    switch (offer_for(a)) {
        case Offer::files:
            return "-F";
        case Offer::folders:
            return "-a '(__fish_complete_directories (commandline -ct))'";
        case Offer::words: {
            std::string words;
            for (const std::string& word : words_for(a))
                words += (words.empty() ? "" : " ") + word;
            return "-a " + quoted(words);
        }
        case Offer::nothing:
            break;
    }
    return "";
}

std::string option(const Page* page, const Argument& a) {
    std::string rest;
    for (const std::string& name : a.names)
        rest +=
            name.starts_with("--") ? "-l " + name.substr(2) + " " : "-s " + name.substr(1) + " ";
    if (!a.value.empty()) {
        const std::string what = offer(a);
        rest += what == "-F" ? "-r " : "-x ";
        if (!what.empty()) rest += what + " ";
    }
    return line(page, rest + "-d " + quoted(a.says));
}

/// The function that says which command stands on the line.
std::string at_function(const Page& program) {
    std::set<std::string> names;
    std::string commands;
    for (const Page* page : all_pages(program)) {
        for (const Argument& a : all_options(*page))
            if (!a.value.empty()) names.insert(a.names.begin(), a.names.end());
        if (!page->is_program()) commands += " " + quoted(page->command_line());
    }
    std::string with_value;
    for (const std::string& name : names)
        with_value += " " + quoted("* " + name);
    return fmt::format(R"(function __glassine_at
    set -l words (commandline -opc)
    set -l at glassine
    set -l value no
    set -e words[1]
    for word in $words
        if test $value = yes
            set value no
            continue
        end
        switch "$at $word"
            case{}
                set value yes
            case{}
                set at "$at $word"
        end
    end
    test "$at" = "$argv[1]"
end
)",
                       with_value, commands);
}

}  // namespace

std::string fish_completion(const Page& program) {
    std::string out =
        "# Completion of glassine for fish, made from what `glassine --help` says.\n\n";
    out += at_function(program) + "\ncomplete -c glassine -f\n";
    for (const Argument& a : program.common)
        out += option(nullptr, a);
    for (const Page* page : all_pages(program)) {
        out += "\n";
        for (const Argument& a : page->options)
            out += option(page, a);
        for (const Page& below : page->commands)
            out +=
                line(page, fmt::format("-a {} -d {}", below.words.back(), quoted(below.summary)));
        if (page->commands.empty() && !page->arguments.empty()) {
            const std::string what = offer(page->arguments.front());
            if (!what.empty()) out += line(page, what);
        }
    }
    return out;
}

}  // namespace glassine::cli

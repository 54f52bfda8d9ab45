#include "cli/manual/completion.h"

#include <set>

#include <fmt/format.h>

namespace glassine::cli {
namespace {

std::string joined(const std::vector<std::string>& words) {
    std::string out;
    for (const std::string& word : words)
        out += (out.empty() ? "" : " ") + word;
    return out;
}

/// What fills COMPREPLY with what a value may be.
std::string offer(const Argument& a) {
    switch (offer_for(a)) {
        case Offer::files:
            return "_glassine_paths -f";
        case Offer::folders:
            return "_glassine_paths -d";
        case Offer::words:
            return fmt::format("_glassine_words '{}'", joined(words_for(a)));
        case Offer::nothing:
            break;
    }
    return ":";
}

/// "*' --studio' | *' --to'": every option that a value follows.
std::string value_patterns(const Page& program) {
    std::set<std::string> names;
    for (const Page* page : all_pages(program))
        for (const Argument& a : all_options(*page))
            if (!a.value.empty()) names.insert(a.names.begin(), a.names.end());
    std::string out;
    for (const std::string& name : names)
        out += fmt::format("{}*' {}'", out.empty() ? "" : " | ", name);
    return out;
}

std::string command_patterns(const Page& program) {
    std::string out;
    for (const Page* page : all_pages(program))
        if (!page->is_program())
            out += fmt::format("{}'{}'", out.empty() ? "" : " | ", page->command_line());
    return out;
}

std::string value_cases(const Page& program) {
    std::string out;
    for (const Page* page : all_pages(program))
        for (const Argument& a : page->is_program() ? page->common : page->options)
            for (const std::string& name : a.names)
                if (!a.value.empty())
                    out += fmt::format("    {}' {}') {}; return ;;\n",
                                       page->is_program() ? "*" : "'" + page->command_line() + "'",
                                       name, offer(a));
    return out;
}

std::string option_cases(const Page& program) {
    std::string out;
    for (const Page* page : all_pages(program)) {
        std::vector<std::string> names;
        for (const Argument& a : all_options(*page))
            names.insert(names.end(), a.names.begin(), a.names.end());
        out += fmt::format("        '{}') _glassine_words '{}' ;;\n", page->command_line(),
                           joined(names));
    }
    return out;
}

std::string argument_cases(const Page& program) {
    std::string out;
    for (const Page* page : all_pages(program)) {
        std::vector<std::string> names;
        for (const Page& below : page->commands)
            names.push_back(below.words.back());
        std::string what = page->arguments.empty() ? ":" : offer(page->arguments.front());
        if (!names.empty()) what = fmt::format("_glassine_words '{}'", joined(names));
        out += fmt::format("        '{}') {} ;;\n", page->command_line(), what);
    }
    return out;
}

}  // namespace

std::string bash_completion(const Page& program) {
    std::string out = R"(# Completion of glassine for bash, made from what `glassine --help` says.

_glassine_words() { mapfile -t COMPREPLY < <(compgen -W "$1" -- "$cur"); }
_glassine_paths() {
    compopt -o filenames 2>/dev/null || :
    mapfile -t COMPREPLY < <(compgen "$1" -- "$cur")
}

_glassine() {
    local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD - 1]} at=glassine i
    # "--option=value" comes as three words.
    if [[ $cur == = ]]; then
        cur=
    elif [[ $prev == = ]]; then
        prev=${COMP_WORDS[COMP_CWORD - 2]}
    fi
    # Which command stands there; an option's value is none.
    for ((i = 1; i < COMP_CWORD; i++)); do
        case "$at ${COMP_WORDS[i]}" in
)";
    out += fmt::format("        {}) ((i++)); [[ ${{COMP_WORDS[i]}} != = ]] || ((i++)) ;;\n",
                       value_patterns(program));
    out += fmt::format("        {}) at+=\" ${{COMP_WORDS[i]}}\" ;;\n", command_patterns(program));
    out += "        esac\n    done\n    COMPREPLY=()\n    case \"$at $prev\" in\n";
    out += value_cases(program);
    out += "    esac\n    if [[ $cur == -* ]]; then\n        case $at in\n";
    out += option_cases(program);
    out += "        esac\n    else\n        case $at in\n";
    out += argument_cases(program);
    return out + "        esac\n    fi\n}\n\ncomplete -F _glassine glassine\n";
}

}  // namespace glassine::cli

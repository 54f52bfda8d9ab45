#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace CLI {
class App;
}

/// What the command line has to say about itself, free of the parser: help, man pages and shell
/// completions are all written from this.
namespace glassine::cli {

/// An option or an argument.
struct Argument {
    std::vector<std::string> names;  ///< "-q", "--quiet"; none for an argument told by its place
    std::string value;               ///< "FILE", "JOB"; empty for a flag
    std::string says;
    std::vector<std::string> choices;  ///< the only values there are; empty: any
    bool required = false;
    bool repeats = false;
};

/// The program, or one of its commands.
struct Page {
    std::vector<std::string> words;  ///< as typed: "glassine", "audit"
    std::string summary;             ///< one line, no full stop; of the program: a sentence
    std::string description;         ///< paragraphs, separated by an empty line
    struct Example {
        std::string line;
        std::string says;
    };
    std::vector<Example> examples;
    std::vector<Argument> arguments;
    std::vector<Argument> options;
    std::vector<Argument> common;  ///< options of every command
    std::vector<Page> commands;    ///< below this one

    bool is_program() const { return words.size() == 1; }
    std::string command_line() const;  ///< "glassine audit"
    std::string synopsis() const;      ///< "glassine audit [OPTIONS] PATH..."
};

/// Of the program or of a command below it.
Page page_of(const CLI::App& app);

struct ExitCode {
    int code;
    std::string_view means;
};
std::span<const ExitCode> exit_codes();

/// A command line in lines of at most `columns` characters, joined by backslashes as a shell takes
/// them; broken before options only.
std::string broken_line(std::string_view line, std::size_t columns, std::string_view indent);

}  // namespace glassine::cli

// glassine-manual FOLDER DATE: writes man pages and shell completions into a folder that is made
// anew; run by the build, so that they always say what the program says.
#include "cli/application.h"
#include "cli/manual/completion.h"
#include "cli/manual/man_page.h"
#include "glassine/io/files.h"

#include <exception>

#include <CLI/CLI.hpp>

namespace {

using namespace glassine;

void write_manual(const io::Path& folder, std::string_view date) {
    io::FileSystem& files = io::posix_file_system();
    if (files.find(folder)) io::remove_tree(files, folder);
    io::make_directories(files, folder / "man");
    io::make_directories(files, folder / "completions");
    cli::Program program;
    const cli::Page all = cli::page_of(*cli::application(program));
    for (const cli::Page* page : cli::all_pages(all))
        io::write_new_file(files, folder / "man" / (cli::man_page_name(*page) + ".1"),
                           cli::man_page(*page, all, date));
    // By the names under which the shells look for them.
    io::write_new_file(files, folder / "completions" / "glassine", cli::bash_completion(all));
    io::write_new_file(files, folder / "completions" / "_glassine", cli::zsh_completion(all));
    io::write_new_file(files, folder / "completions" / "glassine.fish", cli::fish_completion(all));
}

}  // namespace

int main(int argc, char** argv) {
    if (argc != 3) {
        cli::complain("usage: glassine-manual FOLDER DATE");
        return 2;
    }
    try {
        write_manual(argv[1], argv[2]);
    } catch (const std::exception& error) {
        cli::complain(error.what());
        return 3;
    }
    return 0;
}

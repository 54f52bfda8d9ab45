#pragma once

#include "cli/page.h"

#include <string>
#include <string_view>
#include <vector>

/// Shell completion of the whole command line: commands, options, and what a value names.
namespace glassine::cli {

/// What is offered for a value.
enum class Offer { nothing, files, folders, words };
Offer offer_for(const Argument& argument);
/// The words to choose from, for `Offer::words`.
std::vector<std::string> words_for(const Argument& argument);

/// The program and all commands, each before those below it.
std::vector<const Page*> all_pages(const Page& program);
/// Options of the page and those of every command.
std::vector<Argument> all_options(const Page& page);

std::string bash_completion(const Page& program);
std::string zsh_completion(const Page& program);
std::string fish_completion(const Page& program);

}  // namespace glassine::cli

#include "command.h"

#include <charconv>
#include <exception>
#include <iostream>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace demo {

namespace {

std::optional<std::uint64_t> number(std::string_view text) {
    std::uint64_t value = 0;
    auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
    return value;
}

}  // namespace

int run_command(int argc, char** argv, const char* name, const char* folder_word, Work work) {
    const std::vector<std::string> words(argv + 1, argv + argc);
    std::optional<std::uint64_t> seed;
    if (words.size() == 1) seed = 1;
    if (words.size() == 3 && words[1] == "--seed") seed = number(words[2]);
    if (!seed || words[0].starts_with('-')) {
        std::cerr << "usage: " << name << ' ' << folder_word << " [--seed NUMBER]\n";
        return 2;
    }
    try {
        work(words[0], *seed);
        return 0;
    } catch (const std::exception& error) {
        std::cerr << name << ": " << error.what() << '\n';
        return 3;
    }
}

}  // namespace demo

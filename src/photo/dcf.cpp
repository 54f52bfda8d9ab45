#include "glassine/photo/dcf.h"

#include <algorithm>

namespace glassine::photo::dcf {

namespace {

constexpr std::size_t prefix_length = 4;
constexpr std::size_t stem_length = 8;

char upper(char c) {
    return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
}

std::string upper(std::string_view text) {
    std::string out(text);
    std::ranges::transform(out, out.begin(), [](char c) { return upper(c); });
    return out;
}

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

bool all_free(std::string_view text) {
    return std::ranges::all_of(text, [](char c) {
        return is_digit(c) || c == '_' || (upper(c) >= 'A' && upper(c) <= 'Z');
    });
}

/// -1 when something else than a digit stands there.
int number(std::string_view digits) {
    int value = 0;
    for (const char c : digits) {
        if (!is_digit(c)) return -1;
        value = value * 10 + (c - '0');
    }
    return value;
}

}  // namespace

std::optional<FolderName> parse_folder_name(std::string_view name) {
    if (name.size() != stem_length || !all_free(name.substr(3))) return std::nullopt;
    const int n = number(name.substr(0, 3));
    if (n < 100) return std::nullopt;
    return FolderName{n, upper(name.substr(3))};
}

std::optional<FileName> parse_file_name(std::string_view name) {
    const std::string_view stem = name.substr(0, name.find('.'));
    if (stem.size() != stem_length || !all_free(stem.substr(0, prefix_length))) return std::nullopt;
    const int n = number(stem.substr(prefix_length));
    if (n < 1) return std::nullopt;
    std::string_view extension = name.substr(stem.size());
    if (!extension.empty()) extension.remove_prefix(1);
    if (extension.find('.') != std::string_view::npos) return std::nullopt;
    return FileName{upper(stem.substr(0, prefix_length)), n, upper(extension)};
}

}  // namespace glassine::photo::dcf

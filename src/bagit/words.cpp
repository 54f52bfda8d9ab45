#include "words.h"

#include "glassine/base/text.h"

#include <cctype>

namespace glassine::bagit {

std::string excerpt(std::string_view text, std::size_t most) {
    if (text.size() <= most) return std::string(text);
    while (most > 0 && (static_cast<unsigned char>(text[most]) & 0xC0) == 0x80)
        --most;
    return std::string(text.substr(0, most)) + "…";
}

std::string shown_path(std::string_view path) {
    return excerpt(path, 4096);
}

std::string listed(const std::vector<std::string>& names) {
    std::string out;
    for (std::size_t i = 0; i < names.size(); ++i) {
        if (i > 0) out += i + 1 == names.size() ? " and " : ", ";
        out += names[i];
    }
    return out;
}

std::string algorithm_words(std::string_view algorithm) {
    if (algorithm == "md5") return "MD5";
    if (algorithm.starts_with("sha") && algorithm.size() > 3)
        return "SHA-" + std::string(algorithm.substr(3));
    return std::string(algorithm);
}

}  // namespace glassine::bagit

#pragma once

#include <algorithm>
#include <random>
#include <span>
#include <string>

/// Ways in which files go bad on real media. All the same for the same generator.
namespace glassine::test {

inline std::span<const std::byte> bytes_of(const std::string& text) {
    return std::as_bytes(std::span(text.data(), text.size()));
}

/// A number from 0 to below `end`.
inline std::size_t any(std::mt19937& random, std::size_t end) {
    return random() % end;  // the same on every computer, unlike the standard distributions
}

struct Damaged {
    std::string file;
    std::string how;
    bool cut = false;  ///< the end is missing
};

inline Damaged damaged(std::string file, std::mt19937& random) {
    const std::size_t at = any(random, file.size());
    switch (any(random, 6)) {
        case 0:
            file[at] = static_cast<char>(file[at] ^ (1 << any(random, 8)));
            return {file, "a flipped bit"};
        case 1:
            file[at] = static_cast<char>(random());
            return {file, "a wrong byte"};
        case 2:
            return {file.substr(0, at), "cut off", true};
        case 3: {
            const std::size_t n = std::min<std::size_t>(512, file.size() - at);
            std::fill_n(file.begin() + static_cast<std::ptrdiff_t>(at), n, '\0');
            return {file, "a zeroed sector"};
        }
        case 4: {
            const std::size_t n = std::min<std::size_t>(64 + any(random, 400), file.size() - at);
            for (std::size_t i = 0; i < n; ++i)
                file[at + i] = static_cast<char>(random());
            return {file, "noise"};
        }
        default:
            file.erase(at, 1 + any(random, 700));
            return {file, "bytes that fell out"};
    }
}

}  // namespace glassine::test

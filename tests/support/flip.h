#pragma once

#include "support/temp_folder.h"

#include <cstddef>
#include <filesystem>
#include <string>

namespace glassine::test {

/// One bit of a file, as a drive flips it.
inline void flip(const std::filesystem::path& file, std::size_t at) {
    std::string content = content_of(file);
    content.at(at) = static_cast<char>(content.at(at) ^ 0x10);
    write_file(file, content);
}

}  // namespace glassine::test

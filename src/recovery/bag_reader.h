#pragma once

#include "glassine/io/file_system.h"

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>

namespace glassine::recovery {

/// Reads pieces of the files below one folder, keeping the last file open.
class BagReader {
  public:
    BagReader(io::FileSystem& files, io::Path root) : files_(files), root_(std::move(root)) {}

    /// Bytes read from `offset`, fewer than asked for at the end of the file; nothing when the file
    /// or these bytes cannot be read.
    std::optional<std::size_t> read(const std::string& name, std::uint64_t offset,
                                    std::span<std::byte> into);
    /// True when all of it could be read.
    bool read_all(const std::string& name, std::uint64_t offset, std::span<std::byte> into);

  private:
    io::FileSystem& files_;
    io::Path root_;
    std::string name_;
    std::unique_ptr<io::InputFile> file_;  ///< none when the file `name_` cannot be opened
};

}  // namespace glassine::recovery

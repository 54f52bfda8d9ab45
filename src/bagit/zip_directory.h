#pragma once

#include "glassine/bagit/arena.h"
#include "glassine/io/file_system.h"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::bagit {

/// What a ZIP archive writes before a file's content (APPNOTE 4.3.7), as far as libarchive does not
/// pass it on unchanged.
struct ZipHeader {
    std::string
        name;  ///< raw bytes; from the Unicode path field (0x7075, 4.6.9) where there is one
    std::string plain_name;     ///< as the fixed part has it
    bool stored = false;        ///< method 0, not encrypted
    std::uint64_t content = 0;  ///< where the content begins in the archive file
};

/// Nothing when no local header stands there.
std::optional<ZipHeader> read_zip_header(io::InputFile& input, std::uint64_t position);

/// The directory at the end of a ZIP archive (APPNOTE 4.3.12), as far as it tells where the local
/// headers stand and how unpackers will call the files.
class ZipDirectory {
  public:
    /// Empty when there is none that can be read.
    static ZipDirectory read(io::InputFile& input, std::uint64_t size);

    bool empty() const { return entries_.empty(); }
    struct Entry {
        std::uint64_t header = 0;  ///< position of the local header
        std::string_view name;
    };
    /// The entry whose local header is the last one before a position.
    std::optional<Entry> before(std::uint64_t position) const;

  private:
    struct Place {
        std::uint64_t offset = 0;
        std::uint64_t size = 0;
    };
    static std::optional<Place> find(io::InputFile& input, std::uint64_t size);
    static std::optional<Place> find_zip64(io::InputFile& input, std::uint64_t end_record);

    TextArena names_;
    std::vector<Entry> entries_;
};

}  // namespace glassine::bagit

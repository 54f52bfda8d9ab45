#pragma once

#include "glassine/bagit/arena.h"
#include "glassine/base/time.h"
#include "glassine/io/file_system.h"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::bagit {

/// What a bag holds, as met on a walk over a folder or over the members of an archive. The checker
/// asks this list, never the file system, so no path out of a manifest is ever opened.
class Listing {
  public:
    using Index = std::uint32_t;
    static constexpr Index none = UINT32_MAX;

    struct Entry {
        std::string_view name;  ///< relative to the base directory, `/` between parts, raw bytes
        io::FileType type;
        std::uint64_t size;  ///< bytes
        Timestamp modified;
    };

    Index add(std::string_view name, io::FileType type, std::uint64_t size,
              Timestamp modified = {});
    Index size() const { return static_cast<Index>(records_.size()); }
    Entry operator[](Index index) const;
    bool is_file(Index index) const { return (*this)[index].type == io::FileType::regular; }

    /// Looked for by bytes. `hint` is tried first: lists in the same order are matched without
    /// searching.
    Index find(std::string_view name, Index hint = none) const;
    /// Entries whose name is the same text in another Unicode normalisation, or becomes the same
    /// when its bytes are read in `encoding` (drives that never knew Unicode); without the one with
    /// the very same bytes.
    std::vector<Index> find_same_text(std::string_view name, std::string_view encoding) const;
    /// Entries whose name differs only in ASCII case, for hints.
    Index find_ignoring_case(std::string_view name) const;

    /// Of all names together.
    std::uint64_t name_bytes() const { return name_bytes_; }
    std::uint64_t payload_files() const { return payload_files_; }
    std::uint64_t payload_bytes() const { return payload_bytes_; }

  private:
    struct Record {
        const char* name;
        std::uint32_t length;
        io::FileType type;
        std::uint64_t size;
        Timestamp modified;
    };
    struct TextKey {
        std::uint64_t hash;
        Index index;
    };
    void build_table() const;
    void build_texts(std::string_view encoding) const;

    TextArena names_;
    ChunkedVector<Record> records_;
    std::uint64_t name_bytes_ = 0;
    std::uint64_t payload_files_ = 0;
    std::uint64_t payload_bytes_ = 0;
    mutable std::vector<Index> table_;  ///< open addressing over the names, built when first asked
    mutable std::vector<TextKey> texts_;  ///< non-ASCII names by the hash of their NFC form
    mutable bool texts_built_ = false;
};

}  // namespace glassine::bagit

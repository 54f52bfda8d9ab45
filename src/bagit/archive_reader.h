#pragma once

#include "glassine/io/file_system.h"

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace glassine::bagit {

/// One member, as the archive has it.
struct RawMember {
    std::string name;  ///< as written, raw bytes
    io::FileType type = io::FileType::unknown;
    std::optional<std::string> hard_link;  ///< the name of the member whose content it shares
    std::uint64_t size = 0;                ///< bytes, as the header says
    bool size_known = false;
    Timestamp modified;
    bool encrypted = false;
    bool other_name = false;  ///< the directory of a ZIP archive calls it otherwise
};

/// Reads tar and ZIP archives member by member, through libarchive. What is wrong with the archive
/// is told by `fault`, never thrown.
class ArchiveReader {
  public:
    /// Read at a time where everything is wanted, and where content is leapt over.
    static constexpr std::size_t whole_blocks = 512u << 10;
    static constexpr std::size_t headers_only = 64u << 10;

    /// Throws Error when the file cannot be opened.
    ArchiveReader(io::FileSystem& files, const io::Path& path, io::Cache cache,
                  std::size_t read_size);
    ArchiveReader(std::unique_ptr<io::InputFile> input, std::size_t read_size);
    ArchiveReader(const ArchiveReader&) = delete;
    ArchiveReader& operator=(const ArchiveReader&) = delete;
    ~ArchiveReader();

    /// Goes to the next member; false at the end of the archive or of what can be read of it.
    bool next();
    const RawMember& member() const;

    struct Piece {
        std::span<const std::byte> bytes;
        std::uint64_t offset = 0;  ///< in the member; what lies between two pieces is zeros
    };
    /// The next piece of the present member; nothing at its end. Valid until the next call.
    std::optional<Piece> piece();
    /// Where the present member ends: known once `piece` gave nothing.
    std::uint64_t end_of_member() const;

    /// Why it could not be read further, in a sentence for a person.
    const std::optional<std::string>& fault() const;
    /// The fault is the medium's: the archive file itself could not be read there.
    bool medium_failed() const;
    /// Why the present member's content could not be read to its end, although the archive goes on.
    const std::optional<std::string>& member_fault() const;

    /// A compression lies around the whole archive. Known after the first `next`.
    bool compressed() const;
    bool zip() const;
    std::string media_type() const;
    /// Where the header of the present member (after the end: what stands there instead) begins in
    /// the archive file. Only where nothing is compressed.
    std::uint64_t header_position() const;
    /// Where the present member's content begins in the archive file, when it stands there as it
    /// is. Reads the beginning of the content. Not for compressed archives.
    std::optional<std::uint64_t> content_position();
    std::uint64_t archive_size() const;
    /// Bytes of the archive file read so far, without those leapt over.
    std::uint64_t bytes_read() const;

  private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace glassine::bagit

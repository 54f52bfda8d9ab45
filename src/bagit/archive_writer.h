#pragma once

#include "glassine/bagit/archive_destination.h"
#include "glassine/io/file_system.h"

#include <cstdint>
#include <memory>
#include <span>
#include <string>

namespace glassine::bagit {

/// Writes a tar or ZIP archive member by member, through libarchive. Throws the `Error` of the file
/// it writes to.
class ArchiveWriter {
  public:
    ArchiveWriter(io::OutputFile& out, ArchiveForm form);
    ArchiveWriter(const ArchiveWriter&) = delete;
    ArchiveWriter& operator=(const ArchiveWriter&) = delete;
    /// Without `finish` nothing more is written.
    ~ArchiveWriter();

    /// Begins a file of exactly `size` bytes.
    void begin(const std::string& name, std::uint64_t size, Timestamp modified);
    /// What goes past the size is left out.
    void bytes(std::span<const std::byte> bytes);
    /// What is missing of the size becomes zeros.
    void end();
    /// Writes what stands at an archive's end.
    void finish();

    /// Bytes written so far: after `begin` the place of the content.
    std::uint64_t position() const;

  private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace glassine::bagit

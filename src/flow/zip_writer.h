#pragma once

#include "glassine/io/file_system.h"

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::flow {

/// Writes one ZIP file (PKWARE's APPNOTE.TXT 6.3) whose content is stored as it is.
///
/// Size and check value of an entry are known before it is begun, so every local header is whole:
/// no data descriptors, which some unpackers cannot take after stored content.
class ZipWriter {
  public:
    struct Entry {
        std::string name;  ///< `/` between parts; UTF-8 is marked as such
        std::uint64_t size = 0;
        std::uint32_t crc = 0;  ///< CRC-32 as ZIP has it
        Timestamp modified;
    };

    explicit ZipWriter(io::OutputFile& out) : out_(out) {}

    /// Then exactly `entry.size` bytes.
    void begin(Entry entry);
    void bytes(std::span<const std::byte> bytes);
    /// Writes the directory at the end of the file, by name.
    void finish();

    /// Bytes that the whole file has, with its directory, when it is finished now.
    std::uint64_t size() const { return written_ + directory_ + ending; }
    /// By how much an entry makes it larger.
    static std::uint64_t cost(std::string_view name, std::uint64_t size);
    bool empty() const { return entries_.empty(); }

  private:
    struct Placed {
        Entry entry;
        std::uint64_t offset;
    };
    /// End records, generously: those of ZIP64 included.
    static constexpr std::uint64_t ending = 22 + 20 + 56;

    void put(std::string_view bytes);
    std::string directory_record(const Placed& placed) const;
    void write_end(std::uint64_t directory_offset, std::uint64_t directory_size);

    io::OutputFile& out_;
    std::uint64_t written_ = 0;
    std::uint64_t directory_ = 0;
    std::vector<Placed> entries_;
};

/// CRC-32 as ZIP has it (ISO 3309), going on from `crc`; 0 to begin with.
std::uint32_t zip_crc(std::uint32_t crc, std::span<const std::byte> bytes);

}  // namespace glassine::flow

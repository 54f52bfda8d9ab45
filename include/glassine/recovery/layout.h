#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

/// Where every byte of a bag stands in the recovery data: docs/recovery-format.md, "Blocks,
/// windows, code words".
namespace glassine::recovery {

/// A file to be covered: its name inside the bag ("data/print/0042.jpg") and its size in bytes.
struct FileSize {
    std::string name;
    std::uint64_t size = 0;
};

/// Payload and tag files have recovery data of their own, because tag files are known last.
enum class Group : std::uint16_t { payload = 0, tags = 1 };

/// The shape of one window. A window without blocks (only empty files) has words = k = m = 0.
struct Geometry {
    std::uint32_t block_size = 0;  ///< bytes; a power of two from 64 to 1 MiB
    std::uint32_t blocks = 0;      ///< that the files have in this window
    std::uint32_t words =
        0;  ///< code words; block i belongs to word i mod words, as its symbol i / words
    std::uint16_t k = 0;  ///< source symbols a word: blocks / words, rounded up
    std::uint16_t m = 0;  ///< repair symbols a word; k + m <= 255

    std::uint32_t repair_blocks() const { return words * m; }
    bool operator==(const Geometry&) const = default;
};

/// The part of one file that lies in one window.
struct Extent {
    std::string name;
    std::uint64_t file_size = 0;  ///< of the whole file
    std::uint64_t offset =
        0;  ///< in the file, of the first byte in this window: a multiple of the block size
    std::uint32_t first = 0;   ///< number of the first block in the window
    std::uint32_t blocks = 0;  ///< 0 for an empty file

    bool operator==(const Extent&) const = default;
};

/// One window: a run of files (or parts of them) whose code words are closed, and written,
/// together. It makes one recovery file.
struct Window {
    Group group = Group::payload;
    std::uint32_t number = 0;   ///< from 0
    std::uint32_t windows = 0;  ///< in this group
    std::uint32_t percent = 0;  ///< hundredths: what was asked for when it was made
    Geometry geometry;
    std::vector<Extent> extents;  ///< in the order of their blocks

    /// The extent that block `block` belongs to.
    const Extent& extent_of(std::uint32_t block) const;
    /// Where a block begins in its file, and how many bytes of the file it holds (the rest of the
    /// block is zero).
    std::uint64_t offset_of(std::uint32_t block) const;
    std::uint32_t bytes_of(std::uint32_t block) const;

    bool operator==(const Window&) const = default;
};

/// What the keeper chooses, and what memory the encoder may take.
struct Options {
    std::uint32_t percent = 500;  ///< hundredths of a percent of the covered bytes; 100 to 10000
    /// Bytes; Glassine writes blocks of 16 KiB, smaller ones serve tests.
    std::uint32_t block_size = 16u << 10;
    /// Bytes of repair blocks that a window has at most: they are held in memory until the window
    /// closes. More means that longer bursts are healed.
    std::uint64_t window_memory = 112u << 20;
    /// Bytes for blocks that wait until several of a code word can be taken in one go.
    std::uint64_t waiting_memory = 32u << 20;
};

/// The windows for a group of files, which are ordered by the bytes of their names first.
/// `payload_bytes` is the size of the whole payload: it decides by which rule the repair blocks are
/// counted (docs/recovery-format.md, "How Glassine chooses"). Throws Error `malformed` for a
/// percentage or block size out of range, or a name given twice.
std::vector<Window> plan(Group group, std::vector<FileSize> files, const Options& options,
                         std::uint64_t payload_bytes);

/// "recovery/payload-0001.recovery", counted from 1.
std::string file_name(Group group, std::uint32_t number);
/// True for names that `file_name` makes.
bool is_file_name(std::string_view name);

/// The exact size of a window's recovery file.
std::uint64_t file_size(const Window& window);

/// Sets of files to be read one set after another, so that never more than one window is open: the
/// files that lie whole in one window together; a file that reaches from one window into the next
/// as a set of its own. The names live as long as `windows`.
std::vector<std::vector<std::string_view>> reading_sets(const std::vector<Window>& windows);

}  // namespace glassine::recovery

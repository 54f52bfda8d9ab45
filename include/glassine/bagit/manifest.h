#pragma once

#include "glassine/bagit/arena.h"
#include "glassine/bagit/layout.h"
#include "glassine/bagit/rules.h"
#include "glassine/bagit/text_lines.h"
#include "glassine/base/finding.h"
#include "glassine/digest/digest.h"

#include <cstddef>
#include <cstdint>
#include <functional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// Payload and tag manifests (8493 §2.1.3, §2.2.1).
namespace glassine::bagit {

/// One manifest in memory: a million entries take about 16 bytes each beside path and digest.
class Manifest {
  public:
    struct Entry {
        std::string_view path;              ///< decoded, canonical
        std::span<const std::byte> digest;  ///< empty when its text was no digest of the algorithm
        std::uint32_t line = 0;
    };

    Manifest(std::string file, ManifestName name);

    const std::string& file() const { return file_; }  ///< its own name: "manifest-sha512.txt"
    const ManifestName& name() const { return name_; }
    std::uint32_t size() const { return static_cast<std::uint32_t>(records_.size()); }
    Entry operator[](std::uint32_t index) const;

    /// `digest` has the algorithm's size or is empty.
    void add(std::string_view path, std::span<const std::byte> digest, std::uint32_t line);
    /// The path turned out to be meant otherwise (a checksum tool's marks).
    void rename(std::uint32_t index, std::string_view path);
    /// Not all of the file could be read: what it does not list proves nothing.
    bool torn() const { return torn_; }
    void set_torn() { torn_ = true; }

  private:
    struct Record {
        const char* path;
        std::uint32_t length;
        std::uint32_t line : 31;
        std::uint32_t has_digest : 1;
    };
    std::string file_;
    ManifestName name_;
    std::size_t digest_size_;
    TextArena paths_;
    ChunkedVector<Record> records_;
    ChunkedBytes digests_;
    bool torn_ = false;
};

/// What is kept of a manifest at most; further entries are counted, reported once and left out.
struct ManifestRoom {
    std::uint64_t entries = UINT32_MAX / 2;
    std::uint64_t path_bytes = UINT64_MAX;
};

/// Reads a manifest whose bytes arrive in pieces, at several hundred megabytes a second. Lines that
/// break the rules are reported and, where path and digest can be told all the same, kept, so that
/// the file is still checked.
class ManifestParser {
  public:
    using Report = std::function<void(Finding)>;
    ManifestParser(Manifest& into, const Encoding& encoding, const Rules& rules, Report report,
                   ManifestRoom room = {});
    ManifestParser(const ManifestParser&) = delete;
    void feed(std::span<const std::byte> bytes) { lines_.feed(bytes); }
    void gap(std::uint64_t length) { lines_.gap(length); }
    void finish();

  private:
    /// A deviation that concerns many lines alike: told once, with its number and first line.
    struct Habit {
        std::uint64_t count = 0;
        std::uint64_t first = 0;
        void met(const Line& line) {
            if (count++ == 0) first = line.number;
        }
    };
    void line(const Line& line);
    void entry(const Line& line, std::string_view text, bool escaped_by_tool);
    bool digest(std::string_view checksum);
    void path(const Line& line, std::string_view written, bool escaped_by_tool);
    void keep(const Line& line, std::string_view path);
    bool usable(const Line& line, std::string_view path);
    void problem(Weight weight, const Line& line, std::string_view detail);
    void habit(FindingKind kind, Weight weight, const Habit& habit, std::string_view detail);

    Manifest& into_;
    Encoding encoding_;
    const Rules& rules_;
    Report report_;
    ManifestRoom room_;
    std::uint64_t left_out_ = 0;
    Habit empty_lines_;
    Habit not_canonical_;
    Habit escaped_;
    Habit stray_percent_;
    bool last_ended_ = true;
    std::size_t digest_size_;        ///< 0: the algorithm is not known
    std::vector<std::byte> digest_;  ///< of the present line; empty when it has none
    LineReader lines_;
};

/// A line to be written.
struct ManifestLine {
    std::string path;  ///< relative to the bag, `/` between parts, not encoded
    digest::Value digest;
};

/// The text of a 1.0 manifest: sorted by path bytes, two blanks between checksum and path, so that
/// `sha512sum -c` takes it (names holding %, LF or CR excepted).
std::string manifest_text(std::vector<ManifestLine> lines);
/// One line of it.
std::string manifest_line(const digest::Value& digest, std::string_view path);

}  // namespace glassine::bagit

#pragma once

#include "glassine/base/finding.h"
#include "glassine/io/file_system.h"
#include "glassine/recovery/check.h"
#include "glassine/recovery/layout.h"

#include <cstdint>
#include <list>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

namespace glassine::recovery {

/// Check values of a window's blocks. Where the recovery file has lost them, they are not known.
struct Checks {
    std::vector<Check> values;
    std::vector<bool> known;
};

/// Where a good repair block stands.
struct RepairPlace {
    std::uint16_t source =
        0;  ///< 0: the bag's own recovery file; else that of another copy, from 1
    std::uint64_t offset = 0;  ///< of the block in the recovery file
    Check check = 0;           ///< of the block
};

/// One window as its recovery file tells it.
struct CoveredWindow {
    Window window;
    Check id = 0;
    bool own = true;  ///< false: told by another copy only, the bag's own recovery file being lost
};

/// A part of a file that a window covers: numbers into `RecoverySet::windows()` and its extents.
struct Segment {
    std::uint32_t window = 0;
    std::uint32_t extent = 0;
};

struct CoveredFile {
    std::uint64_t size = 0;
    std::vector<Segment> segments;  ///< ascending; with holes where recovery files are lost
};

/// The recovery data of a bag, however much of it is left: which blocks there are, what their check
/// values are, and which repair blocks can be used.
///
/// Opening reads only the index at the front of each recovery file (about a thousandth of the bag);
/// the whole of a recovery file is read when that is damaged, or when its repair blocks are asked
/// for. Not for several threads at once, except `find`.
class RecoverySet {
  public:
    /// `others` are further copies of the same bag, whose recovery files fill in what is lost here.
    /// A bag without recovery files gives an empty set. Nothing that is wrong with a recovery file
    /// is an Error.
    RecoverySet(io::FileSystem& files, io::Path bag, std::vector<io::Path> others = {});
    ~RecoverySet();
    RecoverySet(RecoverySet&&) noexcept;

    bool empty() const { return windows_.empty(); }
    const std::vector<CoveredWindow>& windows() const { return windows_; }

    /// Nothing when no window covers the file.
    const CoveredFile* find(std::string_view name) const;
    const std::unordered_map<std::string_view, CoveredFile>& covered() const { return covered_; }

    /// What the recovery data was made with, in hundredths of a percent; 0 for an empty set.
    std::uint32_t percent() const;

    /// The check values of a window; kept as long as they are used, and some windows longer.
    std::shared_ptr<const Checks> checks(std::size_t window);

    /// The repair blocks of a window that are whole, by number (r * words + c). Reads the whole
    /// recovery file.
    const std::map<std::uint32_t, RepairPlace>& repair(std::size_t window);
    /// Reads one of them; false when it cannot be read or is not what it was.
    bool read_repair(std::size_t window, std::uint32_t index, std::span<std::byte> into);

    /// Recovery files that are lost, damaged, or do not belong here, as far as seen: after the
    /// constructor, what their indexes show; `inspect_all` looks at every byte. Paths are inside
    /// the bag; kind `recovery_damaged`.
    std::vector<Finding> findings() const;
    void inspect_all();

  private:
    struct FileState;
    struct CachedChecks {
        std::size_t window;
        std::shared_ptr<const Checks> checks;
    };

    void open_file(const std::string& name);
    void adopt(FileState& state);
    void list_missing();
    void add_covered(std::uint32_t window);
    void inspect(FileState& state);

    io::FileSystem& files_;
    io::Path bag_;
    std::vector<io::Path> others_;
    std::vector<CoveredWindow> windows_;
    std::vector<std::unique_ptr<FileState>> states_;  ///< one for each window
    std::vector<Finding> lost_;
    std::unordered_map<std::string_view, CoveredFile> covered_;
    std::list<CachedChecks> cached_;
    struct Reading {
        io::Path path;
        std::unique_ptr<io::InputFile> file;
    } reading_;
};

}  // namespace glassine::recovery

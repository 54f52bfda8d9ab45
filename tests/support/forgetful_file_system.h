#pragma once

#include "glassine/io/file_system.h"

#include <cstdint>
#include <map>
#include <mutex>
#include <set>
#include <string>
#include <utility>
#include <vector>

namespace glassine::test {

/// A file system over a real one that knows what would be lost if the power failed now: content
/// that was never synced, and entries of folders that were never synced.
///
/// POSIX promises for a file what fsync(2) of the file covers, and for an entry (created or
/// renamed) what fsync(2) of its folder covers; everything else may or may not be there after a
/// crash (fsync(2), "does not necessarily ensure that the entry in the directory ... has also
/// reached disk").
class ForgetfulFileSystem : public io::ForwardingFileSystem {
  public:
    explicit ForgetfulFileSystem(io::FileSystem& target) : ForwardingFileSystem(target) {}

    std::unique_ptr<io::OutputFile> create(const io::Path& path) override;
    std::unique_ptr<io::OutputFile> append_to(const io::Path& path) override;
    void make_directory(const io::Path& path) override;
    void rename(const io::Path& from, const io::Path& to) override;
    void replace(const io::Path& from, const io::Path& to) override;
    void sync_file(const io::Path& path) override;
    void sync_directory(const io::Path& path) override;

    /// What of the unsynced things is lost.
    enum class Loss {
        all,   ///< everything that may be
        some,  ///< by the toss of a seeded coin, each thing by itself
    };
    /// The power fails: what was not synced below `root` is lost on the real file system. Removals
    /// stay done. No output may be open any more.
    void fail_power(const io::Path& root, Loss loss, std::uint64_t seed = 0);

    std::size_t unsynced_files() const { return unsynced_.size(); }

  private:
    class Output;
    using Inode = std::pair<std::uint64_t, std::uint64_t>;  ///< volume and number

    /// A file or folder that was given a name in a folder that was not synced since.
    struct Entry {
        Inode folder;
        Inode thing;
        /// Where it stood before, for a rename.
        Inode old_folder{};
        std::string old_name;
    };

    Inode inode(const io::Path& path);
    void note_entry(const io::Path& path);
    void note_unsynced(Inode file);
    void note_synced(Inode file);

    std::mutex mutex_;
    std::vector<Entry> entries_;  ///< in the order in which they came
    std::set<Inode> unsynced_;    ///< files with content that was not synced
};

}  // namespace glassine::test

#pragma once

#include "glassine/io/file_system.h"

#include <atomic>
#include <cstdint>
#include <functional>
#include <map>
#include <mutex>
#include <set>
#include <string>
#include <vector>

namespace glassine::test {

/// A file system in which chosen operations fail: the n-th of all, or reads of chosen sectors.
class FaultFileSystem : public io::ForwardingFileSystem {
  public:
    explicit FaultFileSystem(io::FileSystem& target) : ForwardingFileSystem(target) {}

    /// The n-th operation from now (counted from 1) fails with `cause`, once; 0: none.
    void fail_at(std::uint64_t n, Cause cause = Cause::no_space);
    /// From the n-th operation on, every one fails: a drive that is pulled out.
    void fail_from(std::uint64_t n, Cause cause = Cause::unreadable);
    /// From the n-th operation on, those on paths at or below `place` fail: one of several drives
    /// is pulled out. Set before the run begins.
    void fail_below(std::string place, std::uint64_t n, Cause cause = Cause::unreadable);
    std::uint64_t operations() const { return count_; }
    bool failed() const { return fired_; }

    /// Reads that touch `sector` (4096 bytes) of the file whose path ends in `name` fail. Damage
    /// moves with its file; call before the run begins.
    void damage(const std::string& name, std::uint64_t sector);
    /// Runs before every read of the file whose path ends in `name`.
    void before_read(const std::string& name, std::function<void(std::uint64_t offset)> action);
    /// Runs before every opening of the file whose path ends in `name`.
    void before_open(const std::string& name, std::function<void()> action);

    void set_free_space(std::uint64_t bytes) { free_space_ = bytes; }
    void set_rotates(bool rotates) { rotates_ = rotates ? 1 : 0; }

    io::FileInfo info(const io::Path& path) override;
    std::optional<io::FileInfo> find(const io::Path& path) override;
    std::vector<io::DirectoryEntry> list(const io::Path& directory) override;
    std::unique_ptr<io::InputFile> open(const io::Path& path, io::Cache cache) override;
    std::unique_ptr<io::OutputFile> create(const io::Path& path) override;
    std::unique_ptr<io::OutputFile> append_to(const io::Path& path) override;
    void make_directory(const io::Path& path) override;
    void rename(const io::Path& from, const io::Path& to) override;
    void replace(const io::Path& from, const io::Path& to) override;
    void remove_file(const io::Path& path) override;
    void remove_directory(const io::Path& path) override;
    void sync_file(const io::Path& path) override;
    void sync_directory(const io::Path& path) override;
    io::Space space(const io::Path& path) override;
    io::Volume volume(const io::Path& path) override;
    std::unique_ptr<io::Lock> try_lock(const io::Path& path) override;

    /// Counts one operation and throws if its turn to fail has come.
    void step(const char* what, const io::Path& path);
    void check_read(const std::string& path, std::uint64_t offset, std::uint64_t length);

  private:
    void move_damage(const std::string& from, const std::string& to);

    std::atomic<std::uint64_t> count_{0};
    std::atomic<std::uint64_t> fail_at_{0};
    std::atomic<std::uint64_t> fail_from_{0};
    std::atomic<std::uint64_t> fail_below_from_{0};
    std::string below_;
    std::atomic<bool> fired_{false};
    Cause cause_ = Cause::no_space;
    std::map<std::string, std::set<std::uint64_t>> damaged_;
    std::map<std::string, std::function<void(std::uint64_t)>> before_read_;
    std::map<std::string, std::function<void()>> before_open_;
    std::uint64_t free_space_ = 0;
    int rotates_ = -1;
};

}  // namespace glassine::test

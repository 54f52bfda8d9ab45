#pragma once

#include "glassine/base/error.h"
#include "glassine/base/time.h"

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// The only room that touches the operating system.
namespace glassine::io {

/// Used for joining and splitting only; every question to the system goes through `FileSystem`.
using Path = std::filesystem::path;

enum class FileType {
    regular,
    directory,
    symlink,
    fifo,
    socket,
    block_device,
    character_device,
    unknown
};

struct FileInfo {
    FileType type = FileType::unknown;
    std::uint64_t size = 0;    ///< bytes
    Timestamp modified;        ///< mtime
    std::uint64_t device = 0;  ///< the volume, as long as it stays mounted
    std::uint64_t inode = 0;
    std::uint64_t links = 1;
};

struct DirectoryEntry {
    std::string name;  ///< raw bytes as the file system has them
    FileType type = FileType::unknown;
};

enum class Cache { use, bypass };

/// How a read got past the cache, best first.
enum class Bypass {
    direct,   ///< O_DIRECT: the bytes came from the device
    dropped,  ///< the file's pages were dropped from the cache before reading (posix_fadvise)
    fetched,  ///< an object store was asked for every byte
    none,     ///< neither is possible here: the bytes may have come from memory
};
/// "read back from the medium", … : words for a result.
std::string_view word(Bypass bypass);

/// An open file for reading. Reads at different offsets may run on different threads at once.
class InputFile {
  public:
    virtual ~InputFile() = default;
    /// Reads up to `into.size()` bytes from `offset`; less only at the end of the file, 0 past it.
    /// Throws Error (`unreadable` for a fault of the medium).
    virtual std::size_t read(std::uint64_t offset, std::span<std::byte> into) = 0;
    /// Asked of the open file, not of the path.
    virtual FileInfo info() = 0;
    /// The file's own time, where the medium's (`FileInfo::modified`) is another one, as in an
    /// object store. Before the first read it costs a request there, which fetches the file's
    /// beginning as well.
    virtual std::optional<Timestamp> file_time() { return std::nullopt; }
    /// With `Cache::bypass`: how well it worked.
    virtual Bypass bypass() const { return Bypass::none; }
    /// Where the first byte lies on the volume, in bytes (FIEMAP); nothing where the file system
    /// does not tell.
    virtual std::optional<std::uint64_t> physical_position() { return std::nullopt; }
};

/// A file being written for the first time. Destroyed without `close`, what was written stays as it
/// is.
class OutputFile {
  public:
    virtual ~OutputFile() = default;
    virtual void append(std::span<const std::byte> bytes) = 0;
    void append(std::string_view text) {
        append(std::as_bytes(std::span(text.data(), text.size())));
    }
    virtual void set_modified(Timestamp moment) = 0;
    /// Returns when content and size are on the medium.
    virtual void sync() = 0;
    /// Reports errors that the system kept back; calling it twice does nothing more.
    virtual void close() = 0;
};

/// Held while alive; gone with the process, however it ends.
class Lock {
  public:
    virtual ~Lock() = default;
};

struct Space {
    std::uint64_t free_bytes = 0;  ///< for an ordinary user
    std::uint64_t total_bytes = 0;
};

/// What is known of the volume that a path lies on.
struct Volume {
    std::string id;  ///< the file system's UUID; empty where there is none (tmpfs, network)
    std::string file_system;  ///< "ext4", "exfat", …
    Path mount_point;
    std::string device;  ///< "/dev/sdb1", or the share's name
    std::string model;   ///< of the drive, where the system tells
    std::string serial;  ///< of the drive, where the system tells
    bool rotates = false;
    bool read_only = false;
    unsigned requests = 0;  ///< an object store: how many may be under way at once; 0: it is none
};

/// The narrow door to the operating system. All paths are taken as they are (nothing is expanded),
/// symbolic links are never followed in the last part of a path unless a function says so, and
/// every failure is an `Error`. Implementations may be used from several threads at once.
class FileSystem {
  public:
    virtual ~FileSystem() = default;

    /// What stands at the path itself (a symbolic link is reported as one).
    virtual FileInfo info(const Path& path) = 0;
    /// As `info`, or nothing when nothing stands there.
    virtual std::optional<FileInfo> find(const Path& path) = 0;
    /// All entries without `.` and `..`, sorted by name bytes.
    virtual std::vector<DirectoryEntry> list(const Path& directory) = 0;
    virtual std::string read_link(const Path& path) = 0;

    /// Opens a regular file; anything else (link, fifo, device) is refused without touching it.
    virtual std::unique_ptr<InputFile> open(const Path& path, Cache cache = Cache::use) = 0;
    /// Creates a new file; Error `exists` when something stands there.
    virtual std::unique_ptr<OutputFile> create(const Path& path) = 0;
    /// Opens an existing file or creates one, to add at its end (event logs).
    virtual std::unique_ptr<OutputFile> append_to(const Path& path) = 0;

    /// Whether folders have to be made before something is written into them; false in an object
    /// store, where there are only names.
    virtual bool has_folders(const Path&) { return true; }
    /// Creates one folder; Error `exists` when something stands there.
    virtual void make_directory(const Path& path) = 0;
    /// Renames within a volume, in one step, never replacing anything (Error `exists`).
    virtual void rename(const Path& from, const Path& to) = 0;
    /// Renames a file within a volume, in one step, taking the place of a file that stands there.
    virtual void replace(const Path& from, const Path& to) = 0;
    virtual void remove_file(const Path& path) = 0;
    /// An empty folder.
    virtual void remove_directory(const Path& path) = 0;
    virtual void set_modified(const Path& path, Timestamp moment) = 0;

    /// Returns when the file's content is on the medium.
    virtual void sync_file(const Path& path) = 0;
    /// Returns when the folder's entries are on the medium.
    virtual void sync_directory(const Path& path) = 0;

    /// What the medium itself keeps as a checksum of a file, as it told it when the file was last
    /// listed; nothing is read for it. To be compared with itself only: the same text, and nobody
    /// has put another file there; no proof of the bytes. Empty where the medium keeps none, and
    /// for what was not listed.
    virtual std::string store_checksum(const Path&) { return {}; }

    virtual Space space(const Path& path) = 0;
    virtual Volume volume(const Path& path) = 0;

    /// The path with all symbolic links resolved; it must exist.
    virtual Path resolve(const Path& path) = 0;

    /// An exclusive lock on a file (created if need be); nothing if another process holds it.
    virtual std::unique_ptr<Lock> try_lock(const Path& path) = 0;

    virtual Timestamp now() = 0;
};

/// The POSIX implementation; one for the whole process.
FileSystem& posix_file_system();

/// Hands every call on to another file system; a wrapper overrides only what it changes.
class ForwardingFileSystem : public FileSystem {
  public:
    explicit ForwardingFileSystem(FileSystem& target) : target_(target) {}

    FileInfo info(const Path& path) override { return target_.info(path); }
    std::optional<FileInfo> find(const Path& path) override { return target_.find(path); }
    std::vector<DirectoryEntry> list(const Path& directory) override {
        return target_.list(directory);
    }
    std::string read_link(const Path& path) override { return target_.read_link(path); }
    std::unique_ptr<InputFile> open(const Path& path, Cache cache) override {
        return target_.open(path, cache);
    }
    std::unique_ptr<OutputFile> create(const Path& path) override { return target_.create(path); }
    std::unique_ptr<OutputFile> append_to(const Path& path) override {
        return target_.append_to(path);
    }
    bool has_folders(const Path& path) override { return target_.has_folders(path); }
    void make_directory(const Path& path) override { target_.make_directory(path); }
    void rename(const Path& from, const Path& to) override { target_.rename(from, to); }
    void replace(const Path& from, const Path& to) override { target_.replace(from, to); }
    void remove_file(const Path& path) override { target_.remove_file(path); }
    void remove_directory(const Path& path) override { target_.remove_directory(path); }
    void set_modified(const Path& path, Timestamp moment) override {
        target_.set_modified(path, moment);
    }
    void sync_file(const Path& path) override { target_.sync_file(path); }
    void sync_directory(const Path& path) override { target_.sync_directory(path); }
    std::string store_checksum(const Path& path) override { return target_.store_checksum(path); }
    Space space(const Path& path) override { return target_.space(path); }
    Volume volume(const Path& path) override { return target_.volume(path); }
    Path resolve(const Path& path) override { return target_.resolve(path); }
    std::unique_ptr<Lock> try_lock(const Path& path) override { return target_.try_lock(path); }
    Timestamp now() override { return target_.now(); }

  protected:
    FileSystem& target() { return target_; }

  private:
    FileSystem& target_;
};

}  // namespace glassine::io

#include "io/posix.h"

#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <cstdlib>
#include <cstring>

#include <dirent.h>
#include <fcntl.h>
#include <linux/fs.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <sys/syscall.h>
#include <unistd.h>

namespace glassine::io {
namespace posix {

FileType type_of(mode_t mode) {
    switch (mode & S_IFMT) {
        case S_IFREG:
            return FileType::regular;
        case S_IFDIR:
            return FileType::directory;
        case S_IFLNK:
            return FileType::symlink;
        case S_IFIFO:
            return FileType::fifo;
        case S_IFSOCK:
            return FileType::socket;
        case S_IFBLK:
            return FileType::block_device;
        case S_IFCHR:
            return FileType::character_device;
        default:
            return FileType::unknown;
    }
}

FileInfo info_of(const struct stat& status) {
    FileInfo info;
    info.type = type_of(status.st_mode);
    info.size = static_cast<std::uint64_t>(status.st_size);
    info.modified.nanoseconds =
        std::int64_t{status.st_mtim.tv_sec} * 1'000'000'000 + status.st_mtim.tv_nsec;
    info.device = status.st_dev;
    info.inode = status.st_ino;
    info.links = status.st_nlink;
    return info;
}

namespace {

class FileLock : public Lock {
  public:
    explicit FileLock(Descriptor fd) : fd_(std::move(fd)) {}

  private:
    Descriptor fd_;
};

/// rename(2) for file systems that cannot refuse to replace: looks first. Two programs could meet
/// in the moment between; a folder that is not empty is never replaced even then.
void rename_after_looking(const Path& from, const Path& to) {
    struct stat status {};
    if (::lstat(to.c_str(), &status) == 0) throw failure(EEXIST, "rename to", to);
    if (::rename(from.c_str(), to.c_str()) != 0) throw failure(errno, "rename to", to);
}

class PosixFileSystem : public FileSystem {
  public:
    FileInfo info(const Path& path) override {
        struct stat status {};
        if (::lstat(path.c_str(), &status) != 0) throw failure(errno, "look at it", path);
        return info_of(status);
    }

    std::optional<FileInfo> find(const Path& path) override {
        struct stat status {};
        if (::lstat(path.c_str(), &status) == 0) return info_of(status);
        if (errno == ENOENT || errno == ENOTDIR) return std::nullopt;
        throw failure(errno, "look at it", path);
    }

    std::vector<DirectoryEntry> list(const Path& directory) override {
        const Descriptor fd = open_descriptor(directory, O_RDONLY | O_DIRECTORY | O_NOFOLLOW);
        if (!fd.open()) throw failure(errno, "list the folder", directory);
        const std::unique_ptr<DIR, int (*)(DIR*)> stream(::fdopendir(::dup(fd.get())), &::closedir);
        if (!stream) throw failure(errno, "list the folder", directory);
        std::vector<DirectoryEntry> entries;
        errno = 0;
        while (const dirent* entry = ::readdir(stream.get())) {
            if (std::strcmp(entry->d_name, ".") == 0 || std::strcmp(entry->d_name, "..") == 0)
                continue;
            entries.push_back({entry->d_name, type_of(static_cast<mode_t>(DTTOIF(entry->d_type)))});
            errno = 0;
        }
        if (errno != 0) throw failure(errno, "list the folder", directory);
        std::ranges::sort(entries, {}, &DirectoryEntry::name);
        return entries;
    }

    std::string read_link(const Path& path) override {
        std::array<char, 4096> target{};
        const ssize_t n = ::readlink(path.c_str(), target.data(), target.size());
        if (n < 0) throw failure(errno, "read the link", path);
        return {target.data(), static_cast<std::size_t>(n)};
    }

    std::unique_ptr<InputFile> open(const Path& path, Cache cache) override {
        return open_input(path, cache);
    }
    std::unique_ptr<OutputFile> create(const Path& path) override {
        return open_output(path, O_CREAT | O_EXCL);
    }
    std::unique_ptr<OutputFile> append_to(const Path& path) override {
        return open_output(path, O_CREAT | O_APPEND);
    }

    void make_directory(const Path& path) override {
        if (::mkdir(path.c_str(), 0755) != 0) throw failure(errno, "create the folder", path);
    }

    void rename(const Path& from, const Path& to) override {
        if (::syscall(SYS_renameat2, AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(),
                      RENAME_NOREPLACE) == 0)
            return;
        if (errno != EINVAL && errno != ENOSYS) throw failure(errno, "rename to", to);
        rename_after_looking(from, to);
    }

    void replace(const Path& from, const Path& to) override {
        if (::rename(from.c_str(), to.c_str()) != 0) throw failure(errno, "put in its place", to);
    }

    void remove_file(const Path& path) override {
        if (::unlink(path.c_str()) != 0) throw failure(errno, "remove", path);
    }

    void remove_directory(const Path& path) override {
        if (::rmdir(path.c_str()) != 0) throw failure(errno, "remove the folder", path);
    }

    void set_modified(const Path& path, Timestamp moment) override {
        open_output(path, 0)->set_modified(moment);
    }

    void sync_file(const Path& path) override {
        const Descriptor fd = open_descriptor(path, O_RDONLY | O_NOFOLLOW | O_NONBLOCK);
        if (!fd.open() || ::fsync(fd.get()) != 0) throw failure(errno, "bring to the medium", path);
    }

    void sync_directory(const Path& path) override {
        const Descriptor fd = open_descriptor(path, O_RDONLY | O_DIRECTORY);
        if (!fd.open()) throw failure(errno, "bring the folder to the medium", path);
        // Some network and foreign file systems have no such call and write folders at once.
        if (::fsync(fd.get()) != 0 && errno != EINVAL && errno != EOPNOTSUPP)
            throw failure(errno, "bring the folder to the medium", path);
    }

    Space space(const Path& path) override {
        struct statvfs status {};
        if (::statvfs(path.c_str(), &status) != 0)
            throw failure(errno, "ask for the free space", path);
        return {std::uint64_t{status.f_bavail} * status.f_frsize,
                std::uint64_t{status.f_blocks} * status.f_frsize};
    }

    Volume volume(const Path& path) override { return volume_of(path); }

    Path resolve(const Path& path) override {
        const std::unique_ptr<char, decltype(&std::free)> real(::realpath(path.c_str(), nullptr),
                                                               &std::free);
        if (!real) throw failure(errno, "find", path);
        return real.get();
    }

    std::unique_ptr<Lock> try_lock(const Path& path) override {
        Descriptor fd = open_descriptor(path, O_RDWR | O_CREAT | O_NOFOLLOW, 0644);
        if (!fd.open()) throw failure(errno, "lock", path);
        if (::flock(fd.get(), LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK) return nullptr;
        // Whoever held it a moment ago may have removed it: then this is a lock on nothing.
        struct stat held {};
        struct stat there {};
        if (::fstat(fd.get(), &held) != 0 || ::lstat(path.c_str(), &there) != 0 ||
            held.st_dev != there.st_dev || held.st_ino != there.st_ino)
            return nullptr;
        // Where locks are not supported the file is at least there; nothing better can be had.
        return std::make_unique<FileLock>(std::move(fd));
    }

    Timestamp now() override {
        return {std::chrono::duration_cast<std::chrono::nanoseconds>(
                    std::chrono::system_clock::now().time_since_epoch())
                    .count()};
    }
};

}  // namespace
}  // namespace posix

FileSystem& posix_file_system() {
    static posix::PosixFileSystem one;
    return one;
}

std::string_view word(Bypass bypass) {
    switch (bypass) {
        case Bypass::direct:
            return "read back from the medium";
        case Bypass::dropped:
            return "read back after dropping the cache";
        case Bypass::fetched:
            return "read back from the store";
        case Bypass::none:
            return "read back, but the cache could not be passed by";
    }
    return {};
}

}  // namespace glassine::io

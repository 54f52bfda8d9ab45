#include "io/posix.h"

#include <array>
#include <cerrno>
#include <cstdlib>
#include <cstring>

#include <fcntl.h>
#include <linux/fiemap.h>
#include <linux/fs.h>
#include <linux/magic.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/vfs.h>
#include <unistd.h>

namespace glassine::io::posix {
namespace {

/// What O_DIRECT asks of offsets, lengths and memory on every device in use today.
constexpr std::size_t alignment = 4096;

bool aligned(std::uint64_t offset, std::span<std::byte> into) {
    return offset % alignment == 0 && into.size() % alignment == 0 &&
           reinterpret_cast<std::uintptr_t>(into.data()) % alignment == 0;
}

/// Volumes that live in memory: there is no medium behind the cache to read from.
bool lives_in_memory(int fd) {
    struct statfs status {};
    if (::fstatfs(fd, &status) != 0) return false;
    const auto type = static_cast<unsigned long>(status.f_type);
    return type == TMPFS_MAGIC || type == RAMFS_MAGIC;
}

class PosixInput : public InputFile {
  public:
    PosixInput(Path path, Descriptor fd, bool direct, Bypass bypass)
        : path_(std::move(path)), fd_(std::move(fd)), direct_(direct), bypass_(bypass) {}

    std::size_t read(std::uint64_t offset, std::span<std::byte> into) override {
        if (direct_ && !aligned(offset, into)) return read_through_aligned(offset, into);
        return read_plainly(offset, into);
    }

    FileInfo info() override {
        struct stat status {};
        if (::fstat(fd_.get(), &status) != 0) throw failure(errno, "look at the file", path_);
        return info_of(status);
    }

    Bypass bypass() const override { return bypass_; }

    std::optional<std::uint64_t> physical_position() override {
        alignas(struct fiemap)
            std::array<std::byte, sizeof(struct fiemap) + sizeof(struct fiemap_extent)>
                memory{};
        auto* map = reinterpret_cast<struct fiemap*>(memory.data());
        map->fm_length = FIEMAP_MAX_OFFSET;
        map->fm_extent_count = 1;
        if (::ioctl(fd_.get(), FS_IOC_FIEMAP, map) != 0 || map->fm_mapped_extents == 0)
            return std::nullopt;
        const struct fiemap_extent& first = map->fm_extents[0];
        if ((first.fe_flags & (FIEMAP_EXTENT_UNKNOWN | FIEMAP_EXTENT_DATA_INLINE)) != 0)
            return std::nullopt;
        return first.fe_physical;
    }

  private:
    std::size_t read_plainly(std::uint64_t offset, std::span<std::byte> into) {
        std::size_t done = 0;
        while (done < into.size()) {
            const ssize_t n = ::pread(fd_.get(), into.data() + done, into.size() - done,
                                      static_cast<off_t>(offset + done));
            if (n < 0 && errno == EINTR) continue;
            if (n < 0) throw failure(errno, "read", path_);
            done += static_cast<std::size_t>(n);
            // A direct read that ends off the alignment has met the end of the file.
            if (n == 0 || (direct_ && static_cast<std::size_t>(n) % alignment != 0)) break;
        }
        return done;
    }

    /// Serves an unaligned request from an aligned piece of memory.
    std::size_t read_through_aligned(std::uint64_t offset, std::span<std::byte> into) {
        const std::uint64_t from = offset / alignment * alignment;
        const std::uint64_t to = (offset + into.size() + alignment - 1) / alignment * alignment;
        const std::size_t length = static_cast<std::size_t>(to - from);
        const std::unique_ptr<void, decltype(&std::free)> memory(
            std::aligned_alloc(alignment, length), &std::free);
        if (!memory) throw failure(ENOMEM, "read", path_);
        const std::span piece(static_cast<std::byte*>(memory.get()), length);
        const std::size_t got = read_plainly(from, piece);
        const auto skip = static_cast<std::size_t>(offset - from);
        if (got <= skip) return 0;
        const std::size_t n = std::min(got - skip, into.size());
        std::memcpy(into.data(), piece.data() + skip, n);
        return n;
    }

    Path path_;
    Descriptor fd_;
    bool direct_;
    Bypass bypass_;
};

/// O_NONBLOCK: opening a pipe by mistake must not hang.
constexpr int read_flags = O_RDONLY | O_NOFOLLOW | O_NONBLOCK;

void require_regular(const Descriptor& fd, const Path& path) {
    struct stat status {};
    if (::fstat(fd.get(), &status) != 0) throw failure(errno, "look at the file", path);
    if (!S_ISREG(status.st_mode))
        throw Error(Cause::not_supported, "open", path.string(), "it is not an ordinary file",
                    "leave it out");
}

}  // namespace

std::unique_ptr<InputFile> open_input(const Path& path, Cache cache) {
    if (cache == Cache::bypass) {
        Descriptor direct = open_descriptor(path, read_flags | O_DIRECT);
        if (direct.open() && !lives_in_memory(direct.get())) {
            require_regular(direct, path);
            return std::make_unique<PosixInput>(path, std::move(direct), true, Bypass::direct);
        }
    }
    Descriptor fd = open_descriptor(path, read_flags);
    if (!fd.open()) throw failure(errno, "open", path);
    require_regular(fd, path);
    Bypass bypass = Bypass::none;
    if (cache == Cache::bypass && !lives_in_memory(fd.get()) &&
        ::posix_fadvise(fd.get(), 0, 0, POSIX_FADV_DONTNEED) == 0)
        bypass = Bypass::dropped;
    ::posix_fadvise(fd.get(), 0, 0, POSIX_FADV_SEQUENTIAL);
    return std::make_unique<PosixInput>(path, std::move(fd), false, bypass);
}

}  // namespace glassine::io::posix

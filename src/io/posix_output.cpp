#include "io/posix.h"

#include <cerrno>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

namespace glassine::io::posix {
namespace {

/// After so many bytes the system is asked to begin writing: the medium works while the rest is
/// still coming, and the sync at the end finds little left to do.
constexpr std::uint64_t writeback_step = 2u << 20;

class PosixOutput : public OutputFile {
  public:
    PosixOutput(Path path, Descriptor fd) : path_(std::move(path)), fd_(std::move(fd)) {}

    void append(std::span<const std::byte> bytes) override {
        while (!bytes.empty()) {
            const ssize_t n = ::write(fd_.get(), bytes.data(), bytes.size());
            if (n < 0 && errno == EINTR) continue;
            if (n < 0) throw failure(errno, "write", path_);
            bytes = bytes.subspan(static_cast<std::size_t>(n));
            written_ += static_cast<std::uint64_t>(n);
        }
        if (written_ - handed_over_ >= writeback_step) hand_over();
    }

    void set_modified(Timestamp moment) override {
        constexpr std::int64_t second = 1'000'000'000;
        std::int64_t whole = moment.nanoseconds / second;
        if (moment.nanoseconds % second < 0) --whole;
        const timespec times[2] = {{0, UTIME_OMIT}, {whole, moment.nanoseconds - whole * second}};
        if (::futimens(fd_.get(), times) != 0) throw failure(errno, "set the time", path_);
    }

    void sync() override {
        if (::fsync(fd_.get()) != 0) throw failure(errno, "bring to the medium", path_);
        ::posix_fadvise(fd_.get(), 0, 0, POSIX_FADV_DONTNEED);
    }

    void close() override {
        if (!fd_.open()) return;
        // After EINTR the descriptor is closed on Linux: nothing to repeat.
        if (fd_.close() != 0 && errno != EINTR) throw failure(errno, "finish writing", path_);
    }

  private:
    /// Begins to write what has come since the last time, and waits for what was begun then. What
    /// is on the medium leaves the cache, so that a large job pushes nothing else out of it, and
    /// goes through few pages of memory again and again.
    void hand_over() {
        if (handed_over_ > begun_) {
            const auto from = static_cast<off_t>(begun_);
            const auto size = static_cast<off_t>(handed_over_ - begun_);
            constexpr unsigned to_the_end =
                SYNC_FILE_RANGE_WAIT_BEFORE | SYNC_FILE_RANGE_WRITE | SYNC_FILE_RANGE_WAIT_AFTER;
            // Where a file system cannot do this, the sync at the end does it all.
            if (::sync_file_range(fd_.get(), from, size, to_the_end) == 0)
                ::posix_fadvise(fd_.get(), from, size, POSIX_FADV_DONTNEED);
        }
        begun_ = handed_over_;
        handed_over_ = written_;
        ::sync_file_range(fd_.get(), static_cast<off_t>(begun_),
                          static_cast<off_t>(handed_over_ - begun_), SYNC_FILE_RANGE_WRITE);
    }

    Path path_;
    Descriptor fd_;
    std::uint64_t written_ = 0;
    std::uint64_t begun_ = 0;        ///< from here to handed_over_ the system is writing
    std::uint64_t handed_over_ = 0;  ///< from here on nothing is asked of it yet
};

}  // namespace

std::unique_ptr<OutputFile> open_output(const Path& path, int flags) {
    Descriptor fd = open_descriptor(path, flags | O_WRONLY | O_NOFOLLOW, 0644);
    if (!fd.open())
        throw failure(errno, (flags & O_EXCL) != 0 ? "create" : "open for writing", path);
    return std::make_unique<PosixOutput>(path, std::move(fd));
}

}  // namespace glassine::io::posix

#pragma once

#include "glassine/io/file_system.h"

#include <memory>
#include <string>
#include <utility>

#include <sys/stat.h>

/// The pieces of the POSIX implementation; nothing outside this room includes this.
namespace glassine::io::posix {

/// An `Error` for `errno`: the one place where numbers of the operating system become words.
Error failure(int number, std::string tried, const Path& path);

/// Owns a file descriptor.
class Descriptor {
  public:
    explicit Descriptor(int fd = -1) : fd_(fd) {}
    Descriptor(Descriptor&& other) noexcept : fd_(std::exchange(other.fd_, -1)) {}
    Descriptor& operator=(Descriptor&& other) noexcept {
        std::swap(fd_, other.fd_);
        return *this;
    }
    ~Descriptor();

    int get() const { return fd_; }
    bool open() const { return fd_ >= 0; }
    /// Closes now and hands back the result of close(2).
    int close();

  private:
    int fd_;
};

/// open(2) with O_CLOEXEC, tried again when a signal came in between.
Descriptor open_descriptor(const Path& path, int flags, unsigned mode = 0);

FileInfo info_of(const struct ::stat& status);

std::unique_ptr<InputFile> open_input(const Path& path, Cache cache);
std::unique_ptr<OutputFile> open_output(const Path& path, int flags);
Volume volume_of(const Path& path);

}  // namespace glassine::io::posix

#include "io/posix.h"

#include <cerrno>
#include <system_error>

#include <fcntl.h>
#include <unistd.h>

namespace glassine::io::posix {
namespace {

struct Words {
    Cause cause;
    const char* why;
    const char* next;
};

Words words_for(int number) {
    switch (number) {
        case ENOENT:
            return {Cause::not_found, "it does not exist",
                    "check the spelling, and that the drive is connected"};
        case ENOTDIR:
            return {Cause::not_found, "a part of the path is a file, not a folder",
                    "check the path"};
        case EACCES:
        case EPERM:
            return {Cause::permission, "the system does not allow it",
                    "check who owns it and what its rights are"};
        case EEXIST:
        case ENOTEMPTY:
            return {Cause::exists, "something of that name is there already",
                    "move it away or choose another name"};
        case ENOSPC:
            return {Cause::no_space, "there is no space left on the volume",
                    "free some space or name another volume, then run the command again"};
        case EDQUOT:
            return {Cause::no_space, "the quota on this volume is used up",
                    "free some space or name another volume, then run the command again"};
        case EFBIG:
            return {Cause::no_space, "the file is larger than this file system can hold",
                    "use a volume with a file system for large files (FAT32 ends at 4 GiB)"};
        case EROFS:
            return {Cause::read_only, "the volume can only be read",
                    "take off the write protection or name another volume"};
        case EIO:
        case EUCLEAN:
            return {
                Cause::unreadable, "the medium reports an input/output error",
                "try another cable or port; if it stays, use another copy and replace the medium"};
        case ENODEV:
        case ENXIO:
        case ENOTCONN:
        case ESTALE:
            return {Cause::unreadable, "the volume is gone",
                    "connect it again and run the command again"};
        case ELOOP:
            return {Cause::not_supported, "it is a symbolic link, and those are not followed",
                    "name the folder or file that it points to"};
        case EISDIR:
            return {Cause::not_supported, "it is a folder", "name a file"};
        case ENAMETOOLONG:
            return {Cause::not_supported, "the name is too long for this file system",
                    "choose a shorter name"};
        case EINVAL:
        case EOPNOTSUPP:
        case ENOSYS:
            return {Cause::not_supported, "the file system cannot do this", "use another volume"};
        case EBUSY:
        case EAGAIN:
        case ETXTBSY:
            return {Cause::busy, "another program is using it",
                    "close that program and run the command again"};
        case EMFILE:
        case ENFILE:
            return {Cause::busy, "too many files are open at once",
                    "close other programs and run the command again"};
        case ENOMEM:
            return {Cause::busy, "the computer has no memory left", "close other programs"};
        default:
            return {Cause::other, "", ""};
    }
}

}  // namespace

Error failure(int number, std::string tried, const Path& path) {
    const Words words = words_for(number);
    std::string why = words.why;
    if (why.empty()) why = std::generic_category().message(number);
    return {words.cause, std::move(tried), path.string(), std::move(why), words.next};
}

Descriptor::~Descriptor() {
    close();
}

int Descriptor::close() {
    if (fd_ < 0) return 0;
    return ::close(std::exchange(fd_, -1));
}

Descriptor open_descriptor(const Path& path, int flags, unsigned mode) {
    int fd = -1;
    do {
        fd = ::open(path.c_str(), flags | O_CLOEXEC, mode);
    } while (fd < 0 && errno == EINTR);
    return Descriptor(fd);
}

}  // namespace glassine::io::posix

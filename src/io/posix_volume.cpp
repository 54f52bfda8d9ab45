#include "glassine/io/mounts.h"
#include "io/posix.h"

#include <fstream>
#include <map>
#include <sstream>
#include <vector>

#include <fcntl.h>
#include <fmt/format.h>
#include <linux/btrfs.h>
#include <linux/fs.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <unistd.h>

#ifndef FS_IOC_GETFSUUID
namespace {
struct FsUuid2 {
    unsigned char len;
    unsigned char uuid[16];
};
}  // namespace
#define FS_IOC_GETFSUUID _IOR(0x15, 0, struct FsUuid2)
#endif

namespace glassine::io::posix {
namespace {

struct Mount {
    std::string mount_point;
    std::string options;
    std::string file_system;
    std::string source;
    unsigned major = 0;
    unsigned minor = 0;
};

/// mountinfo writes space, tab, newline and backslash as octal escapes (proc(5)).
std::string unescaped(const std::string& field) {
    std::string out;
    for (std::size_t i = 0; i < field.size(); ++i) {
        if (field[i] == '\\' && i + 3 < field.size()) {
            out += static_cast<char>(std::stoi(field.substr(i + 1, 3), nullptr, 8));
            i += 3;
        } else {
            out += field[i];
        }
    }
    return out;
}

/// One line of /proc/self/mountinfo: id parent major:minor root mount-point options ... - type
/// source super-options.
std::optional<Mount> parse_mount(const std::string& line) {
    std::istringstream words(line);
    std::string skip;
    std::string device;
    Mount mount;
    if (!(words >> skip >> skip >> device >> skip >> mount.mount_point >> mount.options))
        return std::nullopt;
    if (std::sscanf(device.c_str(), "%u:%u", &mount.major, &mount.minor) != 2) return std::nullopt;
    while (words >> skip && skip != "-") {
    }
    if (!(words >> mount.file_system >> mount.source)) return std::nullopt;
    mount.mount_point = unescaped(mount.mount_point);
    mount.source = unescaped(mount.source);
    return mount;
}

bool lies_below(const std::string& path, const std::string& mount_point) {
    return mount_point == "/" || path == mount_point || path.starts_with(mount_point + "/");
}

/// The mount that a path (already resolved) lies on: same device, longest mount point; later lines
/// hide earlier ones.
std::optional<Mount> mount_of(const std::string& path, dev_t device) {
    std::ifstream table("/proc/self/mountinfo");
    std::optional<Mount> best;
    for (std::string line; std::getline(table, line);) {
        const auto mount = parse_mount(line);
        if (!mount || ::makedev(mount->major, mount->minor) != device) continue;
        if (!lies_below(path, mount->mount_point)) continue;
        if (!best || mount->mount_point.size() >= best->mount_point.size()) best = mount;
    }
    return best;
}

std::string uuid_text(const unsigned char* bytes) {
    std::string out;
    for (int i = 0; i < 16; ++i) {
        if (i == 4 || i == 6 || i == 8 || i == 10) out += '-';
        out += fmt::format("{:02x}", bytes[i]);
    }
    return out;
}

/// Asks the file system itself (Linux 6.9 and later; btrfs for long).
std::string uuid_from_file_system(const Path& path) {
    const Descriptor fd = open_descriptor(path, O_RDONLY | O_NONBLOCK);
    if (!fd.open()) return {};
    struct FsUuid2 uuid {};
    if (::ioctl(fd.get(), FS_IOC_GETFSUUID, &uuid) == 0 && uuid.len == 16)
        return uuid_text(uuid.uuid);
    struct btrfs_ioctl_fs_info_args btrfs {};
    if (::ioctl(fd.get(), BTRFS_IOC_FS_INFO, &btrfs) == 0) return uuid_text(btrfs.fsid);
    return {};
}

/// What the device manager noted of a block device (E:KEY=value lines); empty without one.
std::map<std::string, std::string> device_properties(unsigned major, unsigned minor) {
    std::map<std::string, std::string> properties;
    std::ifstream notes(fmt::format("/run/udev/data/b{}:{}", major, minor));
    for (std::string line; std::getline(notes, line);) {
        const std::size_t equals = line.find('=');
        if (line.starts_with("E:") && equals != std::string::npos)
            properties[line.substr(2, equals - 2)] = line.substr(equals + 1);
    }
    return properties;
}

bool rotates(unsigned major, unsigned minor) {
    const std::string device = fmt::format("/sys/dev/block/{}:{}", major, minor);
    for (const char* place : {"/queue/rotational", "/../queue/rotational"}) {
        std::ifstream in(device + place);
        int value = 0;
        if (in >> value) return value == 1;
    }
    return false;
}

bool mounted_read_only(const std::string& options) {
    std::istringstream list(options);
    for (std::string option; std::getline(list, option, ',');)
        if (option == "ro") return true;
    return false;
}

void fill_from_mount(Volume& volume, const Mount& mount) {
    volume.mount_point = mount.mount_point;
    volume.file_system = mount.file_system;
    volume.device = mount.source;
    volume.read_only = mounted_read_only(mount.options);
    unsigned major = mount.major;
    unsigned minor = mount.minor;
    struct stat device {};
    // btrfs and others show an anonymous device number; the source names the real one.
    if (::stat(mount.source.c_str(), &device) == 0 && S_ISBLK(device.st_mode)) {
        major = ::major(device.st_rdev);
        minor = ::minor(device.st_rdev);
    }
    volume.rotates = rotates(major, minor);
    const auto properties = device_properties(major, minor);
    const auto property = [&](const char* key) {
        const auto at = properties.find(key);
        return at == properties.end() ? std::string() : at->second;
    };
    volume.model = property("ID_MODEL");
    volume.serial = property("ID_SERIAL_SHORT");
    if (volume.id.empty()) volume.id = property("ID_FS_UUID");
}

}  // namespace

Volume volume_of(const Path& path) {
    struct stat status {};
    if (::stat(path.c_str(), &status) != 0) throw failure(errno, "look at the volume", path);
    std::error_code unresolved;
    const Path real = std::filesystem::canonical(path, unresolved);
    Volume volume;
    volume.id = uuid_from_file_system(path);
    if (const auto mount = mount_of(unresolved ? path.string() : real.string(), status.st_dev))
        fill_from_mount(volume, *mount);
    return volume;
}

}  // namespace glassine::io::posix

namespace glassine::io {

std::vector<Path> mount_points() {
    std::vector<Path> out;
    std::ifstream table("/proc/self/mountinfo");
    for (std::string line; std::getline(table, line);) {
        const auto mount = posix::parse_mount(line);
        // Media have a device file, but for overlays of them; shares and the system's own have not.
        if (mount && mount->source.starts_with("/dev/")) out.emplace_back(mount->mount_point);
    }
    return out;
}

}  // namespace glassine::io

#include "glassine/shelf/volume.h"

#include "glassine/base/error.h"
#include "glassine/io/files.h"
#include "glassine/shelf/event.h"

#include <utility>

#include <fmt/format.h>

namespace glassine::shelf {

namespace {

constexpr std::uint64_t largest_identity = 1u << 20;

/// Text that is given, or what was there before.
void take(std::string& into, const std::string& given) {
    if (!given.empty()) into = given;
}

/// The nearest folder at or above the path that exists.
io::Path standing_part(io::FileSystem& files, io::Path path) {
    while (!files.find(path)) {
        const io::Path above = path.parent_path();
        if (above == path || above.empty()) break;
        path = above;
    }
    return files.resolve(path.empty() ? io::Path(".") : path);
}

/// Whether both folders belong to one file system. Subvolumes differ in their device numbers and
/// share the file system's UUID.
bool same_file_system(io::FileSystem& files, const io::Path& a, const io::Path& b) {
    if (!files.find(b)) return false;  // nothing stands above a store's bucket
    if (files.info(a).device == files.info(b).device) return true;
    const std::string id = files.volume(a).id;
    return !id.empty() && id == files.volume(b).id;
}

FoundVolume write_identity(io::FileSystem& files, FoundVolume volume) {
    volume.identity.written = files.now();
    // As the file will say it: what is in memory and what is read back are one identity.
    volume.identity.written = *parse_event_time(event_time(volume.identity.written));
    io::write_file_durably(files, volume.root / identity_file_name, to_json(volume.identity));
    return volume;
}

void take_details(VolumeIdentity& identity, const VolumeDetails& details) {
    take(identity.label, details.label);
    take(identity.place, details.place);
    take(identity.model, details.model);
    take(identity.serial, details.serial);
    take(identity.purchase, details.purchase);
    if (details.in_service) identity.in_service = details.in_service;
    identity.kind = details.kind;
}

/// What the system says of the medium, as far as it says anything.
void take_medium(VolumeIdentity& identity, const io::Volume& medium) {
    take(identity.model, medium.model);
    take(identity.serial, medium.serial);
    identity.file_system_id = medium.id;
}

}  // namespace

std::string FoundVolume::relative(const io::Path& path) const {
    const std::string text = path.lexically_relative(root).generic_string();
    return text == "." ? std::string() : text;
}

std::optional<FoundVolume> volume_at(io::FileSystem& files, const io::Path& root) {
    const io::Path file = root / identity_file_name;
    const auto standing = files.find(file);
    if (!standing || standing->type != io::FileType::regular) return std::nullopt;
    std::string why;
    const auto identity = parse_identity(io::read_small_file(files, file, largest_identity), &why);
    if (!identity) {
        throw Error(Cause::malformed, "read the volume's identity", file.string(), why,
                    "put it back from the register with `glassine shelf add`, or move the file "
                    "away if this is no volume of yours");
    }
    const io::Path resolved = files.resolve(root);
    return FoundVolume{*identity, resolved, files.volume(resolved), files.info(resolved)};
}

std::optional<FoundVolume> find_volume(io::FileSystem& files, const io::Path& path) {
    io::Path folder = standing_part(files, path);
    while (true) {
        if (auto found = volume_at(files, folder)) return found;
        const io::Path above = folder.parent_path();
        if (above == folder || above.empty() || !same_file_system(files, folder, above)) break;
        folder = above;
    }
    return std::nullopt;
}

FoundVolume add_volume(io::FileSystem& files, const io::Path& root, const VolumeDetails& details) {
    if (files.find(root / identity_file_name)) {
        throw Error(Cause::exists, "give the volume an identity", root.string(),
                    "it has one already", "`glassine shelf list` shows it");
    }
    FoundVolume volume;
    volume.root = files.resolve(root);
    volume.medium = files.volume(volume.root);
    take_medium(volume.identity, volume.medium);
    take_details(volume.identity, details);
    volume.identity.id = random_uuid();
    volume.identity.capacity = files.space(volume.root).total_bytes;
    if (!volume.identity.in_service) volume.identity.in_service = utc_date(files.now());
    volume = write_identity(files, std::move(volume));
    // In a store there is a folder only now.
    volume.standing = files.info(volume.root);
    return volume;
}

FoundVolume change_volume(io::FileSystem& files, const FoundVolume& volume,
                          const VolumeDetails& details) {
    FoundVolume changed = volume;
    take_medium(changed.identity, changed.medium);
    take_details(changed.identity, details);
    return write_identity(files, std::move(changed));
}

FoundVolume renew_identity(io::FileSystem& files, const FoundVolume& volume) {
    FoundVolume renewed = volume;
    renewed.identity.id = random_uuid();
    take_medium(renewed.identity, renewed.medium);
    return write_identity(files, std::move(renewed));
}

std::vector<Finding> check_witness(const FoundVolume& volume) {
    std::vector<Finding> findings;
    const VolumeIdentity& identity = volume.identity;
    const auto differ = [&](std::string_view what, const std::string& then,
                            const std::string& now) {
        if (then.empty() || now.empty() || then == now) return;
        findings.push_back(found(
            FindingKind::volume_cloned, volume.root.string(),
            fmt::format("the identity of {} was written on {} {}, this one has {}: a copy of that "
                        "volume, or a new file system filled from it",
                        identity.label, what, then, now)));
    };
    differ("the file system", identity.file_system_id, volume.medium.id);
    if (findings.empty()) differ("the drive", identity.serial, volume.medium.serial);
    return findings;
}

std::vector<Finding> check_clones(std::span<const FoundVolume> volumes) {
    std::vector<Finding> findings;
    for (std::size_t i = 0; i < volumes.size(); ++i) {
        for (std::size_t k = 0; k < i; ++k) {
            const FoundVolume& a = volumes[k];
            const FoundVolume& b = volumes[i];
            const bool one =
                a.standing.device == b.standing.device && a.standing.inode == b.standing.inode;
            if (one || a.identity.id != b.identity.id) continue;
            findings.push_back(
                found(FindingKind::volume_cloned, b.root.string(),
                      fmt::format("it has the identity of {}, which stands at {} as well",
                                  a.identity.label, a.root.string())));
            break;
        }
    }
    return findings;
}

}  // namespace glassine::shelf

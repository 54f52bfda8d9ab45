#pragma once

#include "glassine/base/finding.h"
#include "glassine/base/time.h"
#include "glassine/io/file_system.h"

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// Where copies lie. A volume is a drive, a server folder or an off-site place that carries its
/// identity in a small file at its root, so that it is the same volume wherever it is mounted.
/// docs/shelf.md shows the file.
namespace glassine::shelf {

/// The identity file, and the event log beside it, at a volume's root. Visible on purpose: whoever
/// finds the drive in thirty years should see what it is.
inline constexpr std::string_view identity_file_name = "glassine-volume.json";
inline constexpr std::string_view event_log_name = "glassine-events.jsonl";

enum class VolumeKind { drive, server, offsite };
std::string_view word(VolumeKind kind);
std::optional<VolumeKind> volume_kind(std::string_view word);

/// What the identity file says. Empty text: not known.
struct VolumeIdentity {
    std::string id;     ///< a UUID; given once, never changed
    std::string label;  ///< what is written on the drive: "SHELF-07"
    std::string place;  ///< "cupboard B"
    VolumeKind kind = VolumeKind::drive;
    std::optional<Date> in_service;
    std::uint64_t capacity = 0;  ///< bytes; 0: not known
    std::string file_system_id;  ///< the file system's UUID when the file was written: a witness
    std::string model;           ///< model, serial and purchase tell which volumes
    std::string serial;          ///< may fail together
    std::string purchase;        ///< free text that is the same for drives bought together
    Timestamp written;           ///< of two versions of one identity the later one holds

    bool operator==(const VolumeIdentity&) const = default;
};

std::string to_json(const VolumeIdentity& identity);
/// Nothing, and `why`, if the text is no identity.
std::optional<VolumeIdentity> parse_identity(std::string_view json, std::string* why = nullptr);

/// A volume as it stands before us.
struct FoundVolume {
    VolumeIdentity identity;
    io::Path root;          ///< the folder that holds the identity file, links resolved
    io::Volume medium;      ///< what the system says of it now
    io::FileInfo standing;  ///< of the root: tells two mounted volumes apart

    /// `path` (links resolved) as seen from the root, `/` between parts; empty for the root itself.
    std::string relative(const io::Path& path) const;
};

/// The identity at `root`; nothing if there is none. Error `malformed` when the file is no
/// identity.
std::optional<FoundVolume> volume_at(io::FileSystem& files, const io::Path& root);

/// The volume that `path` lies on: the nearest folder at or above it with an identity file, looked
/// for up to the root of the file system it stands on, so that a drive mounted inside a server
/// folder is not taken for the server. `path` need not exist yet.
std::optional<FoundVolume> find_volume(io::FileSystem& files, const io::Path& path);

/// What a person says of a volume.
struct VolumeDetails {
    std::string label;
    std::string place;
    VolumeKind kind = VolumeKind::drive;
    std::optional<Date> in_service;  ///< today, unless told otherwise
    std::string model;               ///< model and serial: what the system tells unless given
    std::string serial;
    std::string purchase;
};

/// Gives the folder an identity: writes the file durably. Error `exists` if it has one.
FoundVolume add_volume(io::FileSystem& files, const io::Path& root, const VolumeDetails& details);

/// Writes changed details of a volume, keeping its id and what is left empty in `details`. `kind`
/// is always taken.
FoundVolume change_volume(io::FileSystem& files, const FoundVolume& volume,
                          const VolumeDetails& details);

/// Gives a volume that carries another one's identity an id of its own; the rest stays.
FoundVolume renew_identity(io::FileSystem& files, const FoundVolume& volume);

/// `volume-cloned` when the second witness contradicts the identity: the file system's UUID, or
/// the drive's serial, is not the one it was written on (a copied identity file, or a new file
/// system filled from the old one). Path: the root.
std::vector<Finding> check_witness(const FoundVolume& volume);

/// `volume-cloned` for every volume after the first with an id seen before on another root. One
/// folder reached by two paths is one volume.
std::vector<Finding> check_clones(std::span<const FoundVolume> volumes);

}  // namespace glassine::shelf

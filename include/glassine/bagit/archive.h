#pragma once

#include "glassine/bagit/check.h"

#include <cstdint>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// Serialised bags: a bag folder packed into one tar or ZIP file, read without unpacking it to
/// disk. (The rules are those of draft 0.97 §4; 1.0 dropped the section and kept the practice.)
///
/// Two kinds are told apart. In a **plain** archive (tar that is not compressed, ZIP that only
/// stores) every file stands byte for byte at a known place, so it is read like a folder: tag files
/// first, several readers, damage fenced in by sectors. A **packed** one (.tar.gz, .tar.zst,
/// .tar.bz2, .tar.xz, deflated ZIP) can only be read from its beginning.
namespace glassine::bagit {

/// A file name that ends like an archive that is read here: .tar, .zip, .tar.gz and .tgz, .tar.zst
/// and .tzst, .tar.bz2 and .tbz2, .tar.xz and .txz; blind to ASCII case.
bool is_archive_name(std::string_view file_name);
/// The media type that the ending tells, as in `ArchiveContents`; "application/octet-stream" where
/// it tells none.
std::string_view archive_media_type(std::string_view file_name);
/// The name without that ending: what the bag's folder should be called (0.97 §4-2).
std::string archive_stem(std::string_view file_name);

/// How far a packed archive is followed. It ends, with the finding `archive-limit`, where it
/// unpacks to more than Payload-Oxum says, an eighth and a quarter of `always` on top (known once
/// bag-info.txt was met), or, without that, to more than a hundred times its own size or `always`;
/// in no case further than a thousand times.
struct ArchiveLimits {
    std::uint64_t always = 1u << 30;       ///< bytes
    std::uint64_t members = 4'000'000;     ///< of any archive
    std::uint64_t name_bytes = 1u << 29;   ///< of all names together
    std::uint64_t tag_bytes = 256u << 20;  ///< of the standard's own tag files, kept in memory
                                           ///< while a packed archive is read
};

/// What an archive holds, from its headers.
struct ArchiveContents {
    static constexpr std::uint64_t packed = UINT64_MAX;

    std::string media_type;  ///< "application/x-tar", "application/zip", "application/gzip", …
    std::string bag_name;    ///< the top-level folder; empty when the bag's files stand outside any
    /// The bag's members, by names relative to its base directory. Without what is told in
    /// `findings`: unsafe names, further members of a name, whatever lies beside the bag. A hard
    /// link to a file of the bag is a file with that one's content.
    Listing listing;
    /// By listing index: where in the archive file the content stands as it is; `packed` where it
    /// does not.
    std::vector<std::uint64_t> offsets;
    bool plain = false;     ///< all content stands as it is
    bool has_bag = false;   ///< there is a bagit.txt or a manifest in the base directory
    bool readable = false;  ///< it is an archive at all: one member or a proper end was met
    bool torn = false;      ///< it could not be read to its end: members may be missing here
    std::vector<Finding> findings;
};

/// A plain archive, looked through. What works on bag folders works on it.
class PlainArchive {
  public:
    /// Reads the headers. Null when the archive is packed. Throws Error when the file cannot be
    /// opened or reading was stopped.
    static std::unique_ptr<PlainArchive> open(io::FileSystem& files, const io::Path& archive,
                                              const flow::Options& flow,
                                              const ArchiveLimits& limits = {});
    ~PlainArchive();

    const ArchiveContents& contents() const;
    /// A read-only file system in which the archive's own path is a folder with the members below
    /// it; everything else is as on the disk.
    io::FileSystem& files();
    /// The bag's folder in it.
    const io::Path& folder() const;
    /// As `check_archive`.
    BagReport check(const CheckOptions& options);

  private:
    friend class ArchivedBag;
    PlainArchive();
    struct State;
    std::unique_ptr<State> state_;
};

/// A bag inside an archive, looked through and loaded. Of a plain archive this reads headers and
/// tag files only; a packed one is read (and unpacked, in memory) once from end to end.
class ArchivedBag {
  public:
    /// Throws Error when the file cannot be opened, or (`malformed`) is no archive at all.
    ArchivedBag(io::FileSystem& files, io::Path archive, const LoadOptions& load,
                const flow::Options& flow, const ArchiveLimits& limits = {});
    ~ArchivedBag();

    /// Listing, manifests, findings; those of the archive itself are among them.
    const Bag& bag() const;
    /// Gives the bag away, for `quick_report`; nothing else is to be asked after that.
    Bag take_bag();
    const ArchiveContents& contents() const;

    /// Makes the item for a file, as `River` would get it: `id` and `name` are the caller's, the
    /// rest is filled in.
    using MakeItem = std::function<flow::Item(Listing::Index file)>;
    /// Reads the chosen files once each and hands every block to every sink; outcomes, gaps,
    /// progress and stopping as with `flow::River`. A packed archive is read in its own order,
    /// whatever the order of `chosen`, up to the last chosen file.
    flow::Result read(std::span<const Listing::Index> chosen, const MakeItem& item,
                      std::span<flow::Sink* const> sinks, const flow::Options& options);

    /// `PlainArchive::files` and `folder`; null and empty for a packed archive.
    io::FileSystem* as_files();
    io::Path folder() const;

  private:
    struct State;
    std::unique_ptr<State> state_;
};

/// Checks a serialised bag. Every byte of it is read once; a packed archive in which one payload
/// manifest stands before the payload and another behind it may need a second pass for the other
/// one's algorithm. Throws Error only when the file cannot be opened.
BagReport check_archive(io::FileSystem& files, const io::Path& path, const CheckOptions& options,
                        const ArchiveLimits& limits = {});

}  // namespace glassine::bagit

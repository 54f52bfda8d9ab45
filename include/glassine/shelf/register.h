#pragma once

#include "glassine/digest/digest.h"
#include "glassine/io/file_system.h"
#include "glassine/shelf/audit_plan.h"
#include "glassine/shelf/clearance.h"
#include "glassine/shelf/event.h"
#include "glassine/shelf/facts.h"
#include "glassine/shelf/volume.h"

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// The register: one SQLite file that answers offline which copy is where, when it was last proven
/// and which content is held. It is an index; the drives carry the truth, and everything in it but
/// the place where an interrupted audit stopped can be rebuilt from them. docs/shelf.md gives the
/// schema.
namespace glassine::shelf {

enum class RegisterState {
    ready,    ///< it can be opened
    missing,  ///< there is no file
    damaged,  ///< a register that cannot be read, or an empty or cut file
    foreign,  ///< another program's file
    newer,    ///< written by a newer version of this program
};
struct RegisterCheck {
    RegisterState state = RegisterState::missing;
    std::string why;  ///< one sentence; empty when ready
};

/// One file of a bag's payload as its manifest has it.
struct PayloadFile {
    std::string path;  ///< "data/…", decoded
    digest::Value digest;
};

/// A rejected raw: its content is not in the bag, its digest stands in frames.csv.
struct RejectedFile {
    std::string name;  ///< of the raw file
    digest::Value digest;
    std::string proxy;  ///< the payload path of what stands for it
};

/// A bag as it stands on one volume: what its tag files, its manifest and its frames.csv say.
struct BagRecord {
    std::string name;
    std::string seal;    ///< hex SHA-512 of the tag manifest (or what stands in for it in a bag
                         ///< without one); not empty
    std::string volume;  ///< the volume's id; recorded before
    std::string path;    ///< below the volume's root
    /// Of the one file that the copy is packed into; empty: it is a folder.
    std::string media_type;
    std::string number;  ///< External-Identifier; may be empty
    std::vector<std::string> clients;
    std::optional<Date> shoot_date;
    std::string description;
    std::optional<Date> sealed;  ///< Bagging-Date
    std::optional<Date> promised_until;
    std::optional<Date> keep_until;
    std::uint64_t payload_bytes = 0;
    std::uint64_t payload_files = 0;
    std::vector<PayloadFile> payload;
    std::vector<RejectedFile> rejected;
};

/// Names a bag's content on a volume.
struct BagKey {
    std::string name;
    std::string seal;
    auto operator<=>(const BagKey&) const = default;
};

/// A copy that a look through a volume came across. A folder and an archive of one bag on one
/// volume are two copies, which may fare differently.
struct SeenCopy {
    BagKey bag;
    bool packed = false;
    auto operator<=>(const SeenCopy&) const = default;
};

/// A seal that a bag was seen with.
struct SealWitness {
    std::string seal;    ///< hex
    std::string volume;  ///< the volume's id; empty for events without one
    std::optional<Timestamp>
        first;  ///< the first event that names it; nothing if only a scan saw it
    enum class Rank {
        seen,     ///< by a scan or a check
        carried,  ///< by an event that makes a copy: replication, refreshment
        given,    ///< by an event that gives a seal: ingestion, accession, information package
                  ///< creation, message digest calculation (old seal as source, new as outcome)
    } rank = Rank::seen;
    bool operator==(const SealWitness&) const = default;
};

/// One register, open. Every call is a transaction of its own unless a `Batch` is alive. Several
/// programs may have it open at once: readers never wait, a writer waits up to 30 s for another
/// (Error `busy`). One object belongs to one thread at a time. Any call throws Error: `malformed`
/// when the file turns out to be damaged, `no_space`, `read_only`.
class Register {
  public:
    enum class Depth {
        quick,  ///< the header, the version and the tables: milliseconds
        full,   ///< every page and index as well: seconds
    };
    /// What stands at the path. Changes nothing.
    static RegisterCheck examine(io::FileSystem& files, const io::Path& path,
                                 Depth depth = Depth::quick);
    /// A new, empty register, made in one step. Error `exists` when anything stands there.
    static void create(io::FileSystem& files, const io::Path& path);
    /// Moves a damaged register out of the way, under a name with the moment in it; nothing is
    /// ever removed. Returns that name.
    static io::Path set_aside(io::FileSystem& files, const io::Path& path);

    /// Opens an existing register and brings its schema up to date. Error when `examine` says
    /// anything but `ready`: never replaced silently.
    Register(io::FileSystem& files, const io::Path& path);
    Register(Register&&) noexcept;
    Register& operator=(Register&&) noexcept;
    ~Register();

    /// Many records in one transaction: nothing of it is seen by others, or kept, before `commit`.
    class Batch {
      public:
        explicit Batch(Register& target);
        Batch(const Batch&) = delete;
        Batch& operator=(const Batch&) = delete;
        ~Batch();
        void commit();

      private:
        Register& register_;
        bool open_ = true;
    };

    // Recording. Everything may be recorded again, in any order: what is known already changes
    // nothing.

    /// A volume and where it is mounted. Of two versions of an identity the later written holds.
    void record_volume(const VolumeIdentity& identity, const io::Path& root);
    /// A bag standing on a volume. The payload is taken the first time that this name and seal are
    /// seen with one; hand it over only after the manifest was proven by the tag manifest that
    /// gives the seal, and leave it empty otherwise.
    void record_bag(const BagRecord& bag);
    /// Events from a bag, a volume's log or a deed just done. Those about a bag on a volume decide
    /// how that copy stands. Returns how many were new.
    std::size_t record_events(std::span<const Event> events);
    bool record_event(const Event& event) { return record_events({&event, 1}) == 1; }
    /// Ends a look through the folder `below` (empty: all) of a volume: copies that the register
    /// expects there and that are not among `seen` are missing, those among them are there.
    void finish_scan(const std::string& volume, std::string_view below,
                     std::span<const SeenCopy> seen);

    // Asking.

    Facts facts();
    /// Oldest first.
    std::vector<Event> events_of_bag(std::string_view name);
    std::vector<Event> events_of_volume(std::string_view id);
    std::vector<SealWitness> seal_witnesses(std::string_view bag_name);
    /// Payload paths of a bag, sorted; empty when it is not known.
    std::vector<PayloadFile> payload(const BagKey& bag);
    /// The algorithms of the digests that are held: what a look-up has to compute.
    std::vector<digest::Algorithm> algorithms();
    /// Looks contents up for a clearance. Reads the copies once: later records do not show in it.
    /// Lives no longer than the register.
    std::unique_ptr<Holdings> holdings();
    /// How fast each bag on the volume could be read in its audits, oldest first.
    std::vector<RatePoint> rates(std::string_view volume);

    // Where an interrupted audit of one copy stopped; of folders only. Recording a fixity check of
    // the copy with any outcome but `partial` forgets it.

    AuditProgress audit_progress(const BagKey& bag, const std::string& volume);
    /// Adds files found whole; the first call sets `since`.
    void add_audit_progress(const BagKey& bag, const std::string& volume, Timestamp now,
                            std::span<const std::string> files);
    void forget_audit_progress(const BagKey& bag, const std::string& volume);

    // What an object store said of objects when they were proven (its own checksums, opaque). By
    // paths relative to the volume. Not in the volumes' logs: a register that is rebuilt has none.

    using ObjectChecksums = std::map<std::string, std::string, std::less<>>;
    /// Of the object at `path` and all below it.
    ObjectChecksums object_checksums(const std::string& volume, const std::string& path);
    void note_object_checksums(const std::string& volume, const ObjectChecksums& checksums);
    void forget_object_checksums(const std::string& volume, const std::string& path);

    /// The room's own door to the database.
    struct Inside;
    Inside& inside() { return *inside_; }

  private:
    std::unique_ptr<Inside> inside_;
};

/// What the witnesses say of a seal found on a copy.
enum class SealVerdict {
    as_sealed,  ///< the bag was given this seal, or was seen with it before it was given another
    unknown,    ///< nobody ever saw this bag
    disputed,   ///< no event tells which seal was given, and other copies carry another one
    replaced,   ///< the bag was given other seals only, or stood here with another one: content and
                ///< manifests were exchanged
};
/// `volume` is where the copy lies.
SealVerdict judge_seal(std::span<const SealWitness> witnesses, std::string_view seal,
                       std::string_view volume);

}  // namespace glassine::shelf

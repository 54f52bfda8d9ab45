#pragma once

#include "glassine/bagit/check.h"
#include "glassine/base/finding.h"
#include "glassine/base/time.h"
#include "glassine/io/file_system.h"
#include "glassine/job/accounting.h"
#include "glassine/job/section.h"

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// What each command has to say when it is done. Journeys fill these in; this room shows them as
/// terminal text, JSON and HTML and knows nothing of how they came about.
namespace glassine::report {

/// How a command ended; its number is the program's exit code.
enum class Ending : int {
    good = 0,       ///< all is as it should be
    attention = 1,  ///< damage, a bag not valid, a job not ready
    failed = 3,     ///< the work could not be done
    interrupted = 130,
};
/// "ok", "attention", "failed", "interrupted": the JSON's `outcome`.
std::string_view word(Ending ending);
/// The one that weighs more: failed over attention over good; interrupted over all.
Ending worse(Ending a, Ending b);

/// What every result has.
struct Common {
    std::string command;
    Timestamp started;
    Timestamp finished;
    Ending ending = Ending::good;
};

struct SectionCount {
    job::Section section = job::Section::originals;
    std::uint64_t files = 0;
    std::uint64_t bytes = 0;
    std::uint64_t pictures =
        0;  ///< of the files: raws, pictures and proxies, without sidecars and the like
    bool operator==(const SectionCount&) const = default;
};

/// One copy of a bag, as a close-out leaves it.
struct Copy {
    std::string destination;  ///< as the user named it
    std::string path;         ///< of the bag, a folder or an archive file; empty: there is none
    std::string planned;      ///< in a dry run: where the bag would stand
    bool verified = false;    ///< read back whole and compared
    std::string how;          ///< "read back from the medium", …; empty when not verified
    std::string failure;      ///< why there is no verified copy; empty when there is one
};

/// A job folder, looked over.
struct PreflightResult : Common {
    std::string job;  ///< the folder
    std::uint64_t files = 0;
    std::uint64_t bytes = 0;
    std::vector<SectionCount> sections;
    job::Summary summary;
    std::vector<Finding> findings;
};

struct CloseoutResult : Common {
    std::string bag_name;
    std::string seal;  ///< SHA-512 of tagmanifest-sha512.txt, hex; empty when nothing was sealed
    bool dry_run = false;
    std::uint64_t files = 0;  ///< payload
    std::uint64_t bytes = 0;
    std::vector<SectionCount> sections;
    job::Summary summary;
    std::vector<Copy> copies;
    std::vector<Finding> findings;
    std::vector<std::string> accepted;  ///< kinds that were accepted by name
    std::vector<std::string>
        rejected_raws;  ///< that may go now: listed, hashed, their proxies sealed
};

struct AuditedBag {
    bagit::BagReport report;
    /// Whether it does what the profile of the audit asks for; nothing where none was given.
    std::optional<bool> conforms;
    /// For a damaged bag with recovery data: "healable from its own recovery data: …", or that it
    /// needs another copy.
    std::string outlook;
    /// Payload files that an earlier audit of this bag, stopped before its end, had proven.
    std::uint64_t proven_before = 0;
    /// In an object store: objects that have the store's checksum that they had when they were
    /// proven, and others. Compared, not proven.
    struct StoreChecksums {
        std::uint64_t same = 0;
        std::uint64_t other = 0;
    };
    std::optional<StoreChecksums> store_checksums;
};

/// How fast a volume was read, beside its own earlier audits. Bytes a second.
struct VolumeRate {
    std::string label;
    double now = 0;
    double usual = 0;
};

struct AuditResult : Common {
    bool quick = false;
    std::optional<double> budget;              ///< seconds that were given
    std::optional<std::uint64_t> byte_budget;  ///< bytes that were given to read
    std::vector<std::string> left;  ///< bags that the budget left for the next time; the first of
                                    ///< them may be read in part
    std::vector<VolumeRate> rates;  ///< of volumes of the shelf with earlier audits to compare with
    std::string profile;  ///< the identifier of the profile that the bags were held against
    std::vector<AuditedBag> bags;
    std::vector<Finding> findings;  ///< about the paths themselves: folders that cannot be read
};

/// A file that was healed, or would be.
struct HealedFile {
    std::string path;
    std::string from;  ///< "recovery data", or the copy it came from
    std::vector<std::string>
        changes;  ///< what had changed, in sentences; empty for a lost file and in a dry run
};

struct MendResult : Common {
    std::string bag;
    bool dry_run = false;
    std::vector<HealedFile> healed;
    std::vector<std::string> beyond_repair;
    std::string
        quarantine;  ///< the folder that keeps the damaged originals; empty when nothing was moved
    std::vector<Finding> findings;  ///< what was wrong before
};

/// What is in a bag, without hashing.
struct InspectResult : Common {
    bagit::BagReport bag;
    std::vector<SectionCount> sections;  ///< of a bag that Glassine sealed
};

}  // namespace glassine::report

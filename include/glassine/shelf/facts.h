#pragma once

#include "glassine/base/time.h"
#include "glassine/shelf/volume.h"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// What the register knows, as plain values: what is due, how a job stands and which bags an audit
/// takes first are worked out from these and a day, and from nothing else.
namespace glassine::shelf {

/// How a copy stands by the last thing that was learnt of it.
enum class CopyState {
    unproven,  ///< there, but never read in full and compared
    whole,     ///< the last full check found every file as it was sealed
    damaged,   ///< a check found damage, and none has found it whole since
    replaced,  ///< its seal is none of the seals that the bag was ever given
    missing,   ///< the volume was looked through and the bag was not there
    retired,   ///< on a volume that was taken out of service
    gone,      ///< dropped on purpose
};
std::string_view word(CopyState state);

struct CopyFacts {
    std::string volume;   ///< the volume's id
    std::string path;     ///< below the volume's root
    std::string seal;     ///< hex
    bool packed = false;  ///< into one file, an archive; else it is a folder
    CopyState state = CopyState::unproven;
    std::optional<Timestamp> made;
    std::optional<Timestamp> proven;       ///< the last full check that found it whole
    std::optional<Timestamp> checked;      ///< the last check of any outcome
    std::optional<Timestamp> first_error;  ///< the first time it was found damaged after being
    std::optional<Timestamp> last_error;   ///< whole or unproven, and the last such time
    std::string trouble;                   ///< what that last check said

    bool operator==(const CopyFacts&) const = default;
    /// It stands on its volume, whole or not.
    bool is_there() const {
        return counts() || state == CopyState::damaged || state == CopyState::replaced;
    }
    /// It counts as a copy of the job: there, and nothing speaks against it.
    bool counts() const { return state == CopyState::unproven || state == CopyState::whole; }
};

/// A bag with all its copies. Bags of one name and one Payload-Oxum are one bag, however often it
/// was given new digests; bags that only share the name are different bags.
struct BagFacts {
    std::string name;
    std::string job;     ///< the job number; the bag's name where the job has none
    std::string number;  ///< the job number; may be empty
    std::vector<std::string> clients;
    std::optional<Date> shoot_date;
    std::string description;
    std::optional<Date> sealed;
    std::uint64_t payload_bytes = 0;
    std::uint64_t payload_files = 0;     ///< 0: known from events only, no copy was ever read
    std::optional<Date> promised_until;  ///< as set for this bag; the policy's otherwise
    std::optional<Date> keep_until;      ///< as set for this bag; the policy's otherwise
    std::vector<CopyFacts> copies;       ///< by volume id, then seal, folders before archives

    bool operator==(const BagFacts&) const = default;
};

struct VolumeFacts {
    VolumeIdentity identity;
    std::string root;                      ///< where it was last mounted; may be empty
    std::optional<Timestamp> retired;      ///< taken out of service
    std::optional<Timestamp> first_error;  ///< of anything on it
    std::optional<Timestamp> last_error;
    std::optional<Timestamp> last_seen;  ///< the last event on it

    bool operator==(const VolumeFacts&) const = default;
    /// The label, or the id where it has none.
    const std::string& name() const;
};

struct Facts {
    std::vector<VolumeFacts> volumes;  ///< by id
    std::vector<BagFacts> bags;        ///< by name, then payload

    bool operator==(const Facts&) const = default;
    /// Null if there is no such volume.
    const VolumeFacts* volume(std::string_view id) const;
};

}  // namespace glassine::shelf

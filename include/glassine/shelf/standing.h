#pragma once

#include "glassine/shelf/facts.h"
#include "glassine/shelf/policy.h"

#include <optional>
#include <string>
#include <vector>

namespace glassine::shelf {

/// How well a bag is kept, worked out from the facts and a day.
struct Standing {
    unsigned copies = 0;       ///< that count
    unsigned volumes = 0;      ///< different ones they stand on
    unsigned off_site = 0;     ///< of them on off-site volumes
    unsigned media_kinds = 0;  ///< kinds of volumes among them
    unsigned whole = 0;        ///< of them proven and within the audit interval
    /// "2 of 3 copies", "0 of 1 copies off site": what the policy asks for and is not there.
    std::vector<std::string> lacks;
    /// Why the copies are weaker than their number says: one place, one purchase.
    std::vector<std::string> weaknesses;
    std::optional<Timestamp> proven;  ///< the oldest proof among the copies that count; nothing if
                                      ///< one of them was never proven
    std::optional<Date> promised_until;  ///< nothing: not known, or for good
    std::optional<Date> keep_until;      ///< nothing: not known, or for good
    std::optional<Date> let_go_after;    ///< the later of both; nothing where `keep_until` is none

    /// NDSA Levels of Digital Preservation 2.0, as far as a register can prove them: storage 0 to
    /// 3, integrity 0 to 4 (without the cells on viruses and write-blockers). A level holds when
    /// it and those below hold.
    unsigned storage_level = 0;
    unsigned integrity_level = 0;
    std::string next_storage;  ///< what the next level asks for; empty at the highest
    std::string next_integrity;
};

Standing standing_of(const Facts& facts, const BagFacts& bag, const Policy& policy, Date today);

/// Proven, and not longer ago than the policy's interval.
bool proven_lately(const CopyFacts& copy, const Policy& policy, Date today);
/// The day on which the copy's next audit is due; nothing without an interval, or for a copy never
/// proven (which is due at once).
std::optional<Date> audit_day(const CopyFacts& copy, const Policy& policy);

}  // namespace glassine::shelf

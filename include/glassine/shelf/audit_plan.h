#pragma once

#include "glassine/base/finding.h"
#include "glassine/shelf/facts.h"

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::shelf {

/// Why a copy should be read again before its time: one error seldom comes alone. More than half
/// of the disks with one unreadable sector get another within a month (Bairavasundaram et al.,
/// SIGMETRICS 2007).
enum class Risk {
    none,
    job,     ///< another copy of its bag was found damaged since it was last proven
    medium,  ///< something else on its volume was found damaged since
};
/// `copy` is one of the bag's, and there. A proof of the day before the error, or later, was made
/// with the error in view: one audit finds both.
Risk risk_of(const Facts& facts, const BagFacts& bag, const CopyFacts& copy);

struct PlannedAudit {
    std::string bag;
    std::string seal;
    std::string path;  ///< below the volume's root
    std::uint64_t payload_bytes = 0;
    std::optional<Timestamp> proven;
    /// The proof, or of a copy that is damaged its last check: to read it again before it was
    /// healed tells nothing new.
    std::optional<Timestamp> judged;
    Risk risk = Risk::none;
};

/// The copies on a volume in the order in which an audit takes them: those at risk first, then the
/// longest unproven (never proven before all; damaged ones by their last check), then by path.
/// Whoever stops early goes on next time where it stopped, because what was proven moves to the
/// end.
std::vector<PlannedAudit> plan_audit(const Facts& facts, std::string_view volume);

/// Where an interrupted audit of one copy stopped.
struct AuditProgress {
    /// When its first file was proven. An audit that goes on from here proves the bag as of this
    /// moment, not of its end: give its event this time.
    std::optional<Timestamp> since;
    std::vector<std::string> files;  ///< found whole so far, sorted
};

/// How fast one bag could be read from one volume.
struct RatePoint {
    std::string bag;
    Timestamp time;
    std::uint64_t bytes = 0;
    double seconds = 0;
};

/// A volume's rate against its own earlier audits.
struct RateComparison {
    double now = 0;         ///< bytes a second, over all of `now`
    double usual = 0;       ///< bytes a second that the earlier audits would lead to expect
    bool slower = false;    ///< less than two thirds of it
    unsigned compared = 0;  ///< earlier audits that went into it
};
/// Compares each bag with itself (the outer tracks of a disk are twice as fast as the inner ones),
/// and with the volume as a whole where it has no earlier point. Nothing when there is nothing to
/// compare, or too little was read now to tell (less than 64 MB).
std::optional<RateComparison> compare_rates(std::span<const RatePoint> earlier,
                                            std::span<const RatePoint> now);
/// `slow-read`, path: the volume's label. Nothing if it is not slower.
std::optional<Finding> slow_volume(const RateComparison& comparison, const std::string& label);

}  // namespace glassine::shelf

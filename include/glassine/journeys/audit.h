#pragma once

#include "glassine/journeys/context.h"
#include "glassine/report/audit_page.h"
#include "glassine/report/results.h"

#include <chrono>
#include <cstdint>
#include <optional>
#include <vector>

namespace glassine::journeys {

struct AuditRequest {
    std::vector<io::Path> paths;  ///< each a bag, an archive of one, or a folder or drive of bags
    bool quick = false;           ///< structure, names and sizes only; nothing is proven
    /// Time to take: the audit stops then, and the next one goes on where it stopped.
    std::optional<std::chrono::duration<double>> budget{};
    /// Bytes to read: all bags are looked at, then read file by file, the longest unproven bag
    /// first, until the next file would be too much; the next audit goes on with that one.
    std::optional<std::uint64_t> byte_budget{};
    /// Filled for `report::audit_page`; null: nobody wants a page.
    report::AuditNotes* notes = nullptr;
    io::Path profile = {};  ///< a BagIt profile to hold every bag against; empty: none
};

/// Checks every bag at or below the paths: is every file still what was sealed? Findings are
/// results; the audit goes on to the last bag. Throws Error when a path cannot be looked at or
/// holds no bag at all.
///
/// Bags on a volume of the shelf are taken in the order in which they need it: those at risk after
/// an error first, then the longest unproven. Each check is written into the register and the
/// volume's own log, and its seal is compared with those on record (`replaced-since-sealed`). What
/// an audit that was stopped (by its budget, by the user, by a drive that was pulled out) had
/// proven of a bag is not read again within 30 days, unless it was written to since.
report::AuditResult audit(const Context& context, const AuditRequest& request);

/// What is in a bag, without hashing.
report::InspectResult inspect(const Context& context, const io::Path& bag);

}  // namespace glassine::journeys

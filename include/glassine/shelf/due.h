#pragma once

#include "glassine/shelf/facts.h"
#include "glassine/shelf/policy.h"

#include <string>
#include <string_view>
#include <vector>

namespace glassine::shelf {

/// What can be due, most urgent first.
enum class DueKind {
    no_whole_copy,   ///< a bag without a single copy that counts
    damaged_copy,    ///< a copy is damaged or was replaced; others are there to heal it from
    audit_at_risk,   ///< an error was found on the medium, or on another copy: read these now
    too_few_copies,  ///< fewer copies, volumes, kinds of media or off-site copies than promised
    audit_overdue,
    replace_drive,  ///< too old, or a second error
    server_copy,    ///< the server has kept it long enough: it may move to the shelf, or go
    keep_ended,  ///< the day until which the studio meant to keep it is over, and what was promised
};
/// "damaged-copy", …: a stable word.
std::string_view word(DueKind kind);

struct DueItem {
    DueKind kind;
    Date since;                     ///< the day on which it fell due
    std::string volume;             ///< the volume's id; empty if the item is about a bag
    std::vector<std::string> bags;  ///< sorted names
    std::string what;               ///< one sentence for people, no full stop
    std::string command;            ///< to type in a shell, quoted

    bool operator==(const DueItem&) const = default;
};

/// Everything that is due on that day and nothing else: by kind; within a kind what leaves the
/// fewest copies, then what has waited longest, then by name. Audits and replacements are one item
/// a volume, the rest one a bag. A bag whose copies were all dropped on purpose is let go and never
/// due. In a command, a word in capitals (NEW-DRIVE, OFF-SITE) stands for what the shelf does not
/// have yet.
std::vector<DueItem> what_is_due(const Facts& facts, const Policy& policy, Date today);

}  // namespace glassine::shelf

#pragma once

#include "glassine/base/time.h"

#include <string>
#include <vector>

namespace glassine::shelf {

/// A length of calendar time. Both zero: never, for good.
struct Period {
    unsigned months = 0;
    unsigned days = 0;
    bool is_never() const { return months == 0 && days == 0; }
    bool operator==(const Period&) const = default;
};

/// The day one period later. Months are counted on the calendar: a day that the month does not
/// have becomes its last (2024-02-29 and 12 months: 2025-02-28); then the days are added.
Date later(Date day, Period period);

/// What the studio has promised itself. The defaults are those of a studio without a studio file:
/// common practice, no source, except where noted.
struct Policy {
    unsigned copies = 3;       ///< wanted of each bag, in all
    unsigned off_site = 1;     ///< of them on volumes of kind `offsite`
    unsigned volumes = 3;      ///< different volumes that they must stand on
    unsigned media_kinds = 2;  ///< kinds of volumes among them
    Period audit_every{12, 0};
    Period server_keeps{12, 0};  ///< from the day of sealing; then the server's copy is interim
    Period promised{24, 0};      ///< from the shoot: what the client was told
    Period keep{120, 0};         ///< from the shoot: what the studio means to do
    Period drive_age{60, 0};     ///< from the day in service
    /// After this the second error on one medium counts as another one, not as the same event:
    /// nearly all of a disk's unreadable sectors appear within two weeks (Schroeder, Damouras,
    /// Gill, FAST 2010).
    Period error_span{1, 0};
    /// Verified copies on different volumes that a file needs before the medium it came from may
    /// be wiped: a job is closed out to two destinations at once.
    unsigned clear_copies = 2;
    /// Who may sign that a medium is cleared; nobody unless named.
    std::vector<std::string> clears_media;

    bool operator==(const Policy&) const = default;
};

}  // namespace glassine::shelf

#pragma once

#include "glassine/journeys/context.h"
#include "glassine/report/shelf_pages.h"
#include "glassine/report/shelf_results.h"
#include "glassine/shelf/policy.h"
#include "glassine/shelf/volume.h"

#include <string>
#include <vector>

/// The shelf: volumes and their identities, what stands where, what is due. All of these ask or
/// fill the register at `Context::register_file` (Error `usage` when no place for one is known).
namespace glassine::journeys {

struct ShelfAddRequest {
    io::Path volume;  ///< the folder that becomes the volume's root
    shelf::VolumeDetails details;
    /// The volume has an identity already: change what is given in `details` (label, place and the
    /// rest stay where they are empty).
    bool change = false;
    bool keep_kind = false;  ///< with `change`: `details.kind` is not meant
    /// It carries another volume's identity (a cloned drive): give it one of its own.
    bool new_identity = false;
};

/// Gives a drive, server folder or off-site place an identity that travels with it, and takes it
/// into the register (a new one where there is none: `register-new`). Error `exists` when it has an
/// identity and neither `change` nor `new_identity` is set, `not_found` when the folder is not
/// there.
report::ShelfAddResult shelf_add(const Context& context, const ShelfAddRequest& request);

/// Takes everything at or below the paths into the register: volumes, bags, their events and the
/// volumes' own logs. Scanning twice changes nothing. A damaged register is put aside and begun
/// anew, a missing one is made. Bags are not hashed: a scan proves nothing, it remembers. The
/// ending is `attention` when something below the paths could not be taken in.
report::ShelfScanResult shelf_scan(const Context& context, const std::vector<io::Path>& paths);

/// The whole shelf as the register knows it, judged by the studio's policy today. `due` is filled
/// in. Error `not_found` when there is no register.
report::ShelfOverview shelf_overview(const Context& context);

/// Bags by words half remembered. The ending is `attention` when nothing was found.
report::ShelfFindResult shelf_find(const Context& context, const std::string& words);

/// What to do next. The ending is `attention` when there is something.
report::ShelfDueResult shelf_due(const Context& context);

/// Takes a volume out of service: a drive that was lost, has died or was wiped. `which`: its label,
/// its id or a path on it. Recorded in the register and in the own log of every other connected
/// volume, so that a rebuilt register knows it too. Error `not_found` when no volume or more than
/// one answers to it.
report::ShelfRetireResult shelf_retire(const Context& context, const std::string& which);

/// What belongs on the labels of these volumes, each named as for `shelf_retire`; one named twice
/// is there once. Nothing is written.
report::ShelfLabelResult shelf_label(const Context& context, const std::vector<std::string>& which);

/// The studio's policy as the shelf takes it.
shelf::Policy shelf_policy(const job::Studio& studio);

}  // namespace glassine::journeys

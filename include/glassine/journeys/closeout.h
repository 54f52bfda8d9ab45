#pragma once

#include "glassine/bagit/archive_destination.h"
#include "glassine/base/finding.h"
#include "glassine/base/time.h"
#include "glassine/journeys/context.h"
#include "glassine/report/results.h"

#include <array>
#include <functional>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

namespace glassine::journeys {

struct CloseoutRequest {
    io::Path job;
    std::vector<std::string> destinations;  ///< folders on volumes
    std::vector<std::string> clients;
    Date date{};
    std::string about;
    std::string job_number;  ///< may be empty
    /// The day until which the client was told that the pictures are kept, and the day until
    /// which the studio means to keep them; nothing: as the policy has it.
    std::optional<Date> promised_until;
    std::optional<Date> keep_until;
    std::set<FindingKind> accept;  ///< blocking kinds that the user takes on
    unsigned recovery_percent =
        0;  ///< recovery data in whole percent of the payload, up to 100; 0: none
    /// One archive file on every destination instead of a folder; nothing: a folder.
    std::optional<bagit::ArchiveForm> serialize;
    bool keep_folder = false;  ///< with `serialize`: the folder as well
    bool dry_run = false;
    std::array<std::optional<io::Path>, 4>
        sections;  ///< by `job::index`: folders given by the user

    /// Whoever else looks at the job in its single read: gets every file, by its path.
    struct Witness {
        std::vector<flow::Sink*> sinks;
        /// Asked when everything was read and nothing is sealed yet; may be empty.
        std::function<std::vector<Finding>()> verdict;
    };
    Witness witness;
    /// Tag files that the bag gets beside its own, by name.
    std::map<std::string, std::string> evidence;
    /// Files below the job that stand in no section because they are `evidence`.
    std::set<std::string> set_aside;
};

/// Closes out a delivered job: one sealed bag on every destination (as a folder, as one archive
/// file, or both), from one read of the sources.
///
/// Sources are only read. A destination that fails does not stop the others; nothing half-made ever
/// stands under the bag's name. The result's ending is `attention` when the job is not ready
/// (findings say why), `failed` when a source could not be read or a destination has no verified
/// copy. Throws Error for what is wrong before the first byte.
report::CloseoutResult closeout(const Context& context, const CloseoutRequest& request);

}  // namespace glassine::journeys

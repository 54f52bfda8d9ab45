#pragma once

#include "glassine/journeys/context.h"
#include "glassine/report/migrate_result.h"

#include <set>
#include <string>
#include <vector>

namespace glassine::journeys {

/// A job folder that was never a bag.
struct AdoptRequest {
    io::Path folder;
    std::string name;  ///< its path below the drive, by which it is read
    io::Path to;       ///< folder that the bag is to stand in; it exists
    std::set<FindingKind> accept;
    unsigned recovery_percent = 0;
};

struct Adopted {
    report::MigratedBag bag;
    std::uint64_t accounted = 0;        ///< of the folder's files
    std::vector<Finding> left;          ///< what a person has to decide on; paths below the folder
    std::vector<std::string> junk;      ///< left by operating systems
    std::vector<std::string> rejected;  ///< rejected raws: known, hashed, a JPEG stands for each
};

/// Whether something is laid out like a job: a subfolder of it stands for a section.
bool is_job_folder(io::FileSystem& files, const io::Path& folder, const job::AdoptRules& rules);

/// Reads what the names of the folder and its subfolders say, has its checksum lists proven, and
/// closes it out. Only when all of it can be placed: else nothing is done and everything is listed.
/// Throws Error only when interrupted.
Adopted adopt(const Context& context, const AdoptRequest& request);

}  // namespace glassine::journeys

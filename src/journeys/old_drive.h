#pragma once

#include "glassine/base/finding.h"
#include "glassine/io/file_system.h"
#include "glassine/job/folder_name.h"

#include <cstdint>
#include <string>
#include <vector>

namespace glassine::journeys {

/// What stands on an old drive, before a file is read.
struct OldDrive {
    io::Path root;                   ///< resolved
    std::vector<io::Path> bags;      ///< relative to `root`; one that is empty: the root itself
    std::vector<io::Path> archives;  ///< files that may be bags packed into one, by their names
    std::vector<io::Path> jobs;      ///< job folders that were never bags, as `bags`
    struct Stray {
        std::string path;  ///< relative, of a file that stands in no bag
        std::uint64_t bytes = 0;
    };
    std::vector<Stray> strays;
    std::vector<std::string> junk;     ///< left by operating systems
    std::vector<std::string> records;  ///< what Glassine keeps about the volume itself
    std::uint64_t aside_bytes = 0;     ///< of junk and records
    struct Kept {
        std::string path;  ///< relative, of a folder of damaged files that a mending kept
        std::uint64_t files = 0;
        std::uint64_t bytes = 0;
    };
    std::vector<Kept> quarantines;
    std::vector<Finding> findings;  ///< folders that cannot be read, links, half-made bags
};

/// Looks through a folder or drive. Error `usage` when it is no folder. `adopt`: also finds job
/// folders by what their subfolders are called; nullptr: does not.
OldDrive look_through(io::FileSystem& files, const io::Path& path, const job::AdoptRules* adopt);

}  // namespace glassine::journeys

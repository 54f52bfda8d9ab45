#pragma once

#include "glassine/job/folder_name.h"
#include "glassine/journeys/context.h"
#include "journeys/checksum_lists.h"

#include <array>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

namespace glassine::journeys {

/// What an old job folder looks like.
struct AdoptLook {
    job::FolderReading reading;
    std::array<std::optional<io::Path>, 4> sections;  ///< by `job::index`
    std::set<std::string> evidence;  ///< checksum lists that stand in no section, below the folder
    std::vector<Finding> problems;   ///< `unmapped`: why it cannot be placed; none: it can
};

/// Looks at names only, and reads checksum lists into `lists`.
AdoptLook look_at_old_job(const Context& context, const io::Path& folder, const std::string& name,
                          ChecksumLists& lists);

}  // namespace glassine::journeys

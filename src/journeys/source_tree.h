#pragma once

#include "glassine/base/finding.h"
#include "glassine/flow/destination.h"
#include "glassine/flow/sink.h"
#include "glassine/io/file_system.h"

#include <string>
#include <vector>

namespace glassine::journeys {

/// Everything that stands below a folder.
struct SourceTree {
    std::vector<flow::Item> files;     ///< regular files, by name; their names are relative
    std::vector<std::string> folders;  ///< those that hold nothing
    std::vector<Finding> findings;     ///< links, devices, folders that cannot be read

    flow::Destination::Need need() const;
};

/// Whether an operating system left this file, or a folder that it stands in.
bool in_junk(const std::string& path);

SourceTree list_tree(io::FileSystem& files, const io::Path& root);

}  // namespace glassine::journeys

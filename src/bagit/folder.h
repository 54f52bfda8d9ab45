#pragma once

#include "glassine/bagit/archive.h"

#include <optional>
#include <string>

namespace glassine::bagit {

/// A bag that is a folder, or can be read like one.
struct FolderSource {
    io::FileSystem& files;
    io::Path given;    ///< as the report names it
    io::Path root;     ///< the bag's base directory
    std::string name;  ///< of the base directory
    /// A plain archive: its members are listed already.
    const ArchiveContents* archive = nullptr;
};

FolderSource folder_source(io::FileSystem& files, const io::Path& path);
BagReport check_source(FolderSource source, const CheckOptions& options);
/// Nothing when it was stopped.
std::optional<Bag> load_source(FolderSource source, const LoadOptions& load,
                               const flow::Options& flow);

/// A copy of a listing with the same indices.
Listing copy_of(const Listing& listing);
/// What was found about an archive belongs to its bag.
void tell_archive(const ArchiveContents& archive, BagLoader& loader);

}  // namespace glassine::bagit

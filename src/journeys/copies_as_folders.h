#pragma once

#include "glassine/bagit/archive.h"
#include "glassine/journeys/context.h"

#include <memory>
#include <optional>
#include <vector>

namespace glassine::journeys {

/// Opens the archive of a bag. Error `not_found` when there is no bag in it, `malformed` when it is
/// no archive.
std::unique_ptr<bagit::ArchivedBag> look_into_archive(const Context& context, const io::Path& path);

/// The same context with another file system.
Context seen_through(const Context& context, io::FileSystem& files);

/// Whether an archive holds one bag and nothing else, and all of that can be seen: what is carried
/// out of it lacks nothing.
bool is_one_bag(const bagit::ArchiveContents& contents);

/// Copies of a bag as folders, also those that are packed into one file: what reads folders and
/// takes single files from other copies need not know the difference.
class CopiesAsFolders {
  public:
    explicit CopiesAsFolders(const Context& context) : context_(context) {}

    /// The context in which every copy that was added is a folder. Changes with each one.
    const Context& context() const { return *context_; }

    /// The folder of a copy in that context: the path itself, unless it is an archive. Error
    /// `not_supported` for one that is compressed, further those of `look_into_archive`.
    io::Path add(const io::Path& copy);
    /// Adds those of the copies that can be read so, and leaves out the others: what may help, and
    /// nobody named.
    std::vector<io::Path> add_usable(const std::vector<io::Path>& copies);

  private:
    std::optional<Context> context_;
    std::vector<std::unique_ptr<bagit::ArchivedBag>> archives_;
};

}  // namespace glassine::journeys

#pragma once

#include "glassine/io/file_system.h"

#include <memory>
#include <string>

namespace glassine::flow {

/// A folder in which something is prepared before it gets its name. A lock file in it tells what
/// an interrupted run left behind from what another run is at work on.
class StagingPlace {
  public:
    /// `work`: for messages, "closing out this job".
    StagingPlace(io::FileSystem& files, io::Path path, std::string work)
        : files_(files), path_(std::move(path)), work_(std::move(work)) {}
    StagingPlace(const StagingPlace&) = delete;
    ~StagingPlace() { remove(); }

    const io::Path& path() const { return path_; }
    /// Clears what an interrupted run left. Error `busy` when another run is at work there,
    /// `exists` when what stands in the place is not ours.
    void clear();
    /// Clears and makes the folder, and holds it until `remove`.
    void make();
    bool made() const { return lock_ != nullptr; }
    /// Removes the folder with all that is in it, if it was made here; never throws.
    void remove() noexcept;

  private:
    Error in_use() const;

    io::FileSystem& files_;
    io::Path path_;
    std::string work_;
    std::unique_ptr<io::Lock> lock_;
};

}  // namespace glassine::flow

#pragma once

#include "glassine/bagit/archive.h"
#include "glassine/journeys/context.h"
#include "glassine/report/results.h"
#include "journeys/bag_making.h"

#include <memory>
#include <string>
#include <vector>

namespace glassine::journeys {

/// Copies of the bag that an earlier run has sealed already: one drive was full, or was pulled out,
/// and the job is closed out again to complete it. What is missing is made the same as what stands,
/// down to the last tag file.
class StandingCopies {
  public:
    explicit StandingCopies(const Context& context) : context_(context) {}

    /// Before the first byte. `bag` is a folder or an archive file. Throws Error `exists` when what
    /// stands there is no bag, or plainly
    /// one of another content than files of these payload names (and proxies, which are made on the
    /// way).
    void add(const io::Path& bag, const std::vector<std::string>& payload_names);
    bool empty() const { return bags_.empty(); }
    std::size_t size() const { return bags_.size(); }
    /// Clears what the earlier run may have left beside them when it was cut off at its very end.
    void clear_leftovers() const;

    /// After the read: throws Error `exists` when a standing copy lists other content.
    void compare(const std::string& payload_manifest) const;
    /// Reads all tag files of the first standing copy into the copies in the making and gives the
    /// seal. Throws Error `malformed` when a tag file is not what the tag manifest says.
    std::string copy_tags(Copies& copies, BagMaking& bag) const;
    /// Reads a standing copy from its medium and says whether it is whole.
    report::Copy prove(std::size_t number, const std::string& destination) const;

  private:
    struct Standing {
        io::Path path;  ///< on the volume
        std::unique_ptr<bagit::ArchivedBag> archive;
        io::FileSystem* files;  ///< in which the bag is a folder
        io::Path folder;
    };
    Standing open(const io::Path& bag) const;
    flow::Options reading() const;

    const Context& context_;
    std::vector<Standing> bags_;
};

}  // namespace glassine::journeys

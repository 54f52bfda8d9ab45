#pragma once

#include "glassine/journeys/context.h"
#include "glassine/report/migrate_result.h"
#include "journeys/other_copies.h"
#include "journeys/shelf_records.h"

#include <string>
#include <vector>

namespace glassine::journeys {

/// What a migration has to do with the shelf: what is written down of each bag that was carried,
/// and in how many proven copies it stands then. Old drives get no line in their logs: they are
/// only read.
class MigrateBooks {
  public:
    explicit MigrateBooks(const Context& context) : context_(context), records_(context) {}

    /// Whether content and manifests of a bag were exchanged together since it was sealed, as far
    /// as the register knows.
    bool is_exchanged(const io::Path& source);

    /// Writes down what became of the bag at `source` (resolved). A bag that fits together and was
    /// `exchanged` is damaged, whatever its manifests say (`replaced-since-sealed`).
    void enter(const io::Path& source, bool exchanged, report::MigratedBag& bag);

    /// An archive: the register keeps copies that are folders, so only the deed is noted.
    void enter_archive(const io::Path& source, const report::MigratedBag& archive);

    /// Folders of connected copies of a bag that the register knows, without the bag itself.
    std::vector<io::Path> other_copies(const io::Path& bag) {
        return journeys::other_copies(records_, bag).folders;
    }

    /// Fills in of all bags in how many proven copies they stand, without the old drives (roots,
    /// resolved), and what the policy asks for beyond that.
    void count_copies(std::vector<report::MigratedBag>& bags,
                      const std::vector<io::Path>& old_drives);

    /// Worst first; that the new drive has no identity is said once, of `destination`.
    std::vector<Finding> take_findings(const io::Path& destination);

  private:
    bool is_known(const io::Path& copy);
    std::string seal_of(const io::Path& bag) const;
    void enter_check(const report::MigratedBag& bag);
    shelf::Facts without(const std::vector<io::Path>& old_drives);
    void judge(const shelf::Facts& facts, report::MigratedBag& bag);

    const Context& context_;
    ShelfRecords records_;
};

}  // namespace glassine::journeys

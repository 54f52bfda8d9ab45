#pragma once

#include "glassine/journeys/context.h"
#include "glassine/report/migrate_result.h"
#include "journeys/other_copies.h"
#include "journeys/shelf_records.h"

#include <optional>
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

    /// Writes down what became of the bag at `source` (resolved), a folder or an archive. A bag
    /// that fits together and was `exchanged` is damaged, whatever its manifests say
    /// (`replaced-since-sealed`). `met`: what was seen of it, where looking into the copy once more
    /// would mean to unpack it.
    void enter(const io::Path& source, bool exchanged, report::MigratedBag& bag,
               const std::optional<shelf::BagRecord>& met = {});

    /// Connected copies that the register knows of the bag called `name`, folders and archives,
    /// without the one at `here`.
    std::vector<io::Path> other_copies(const std::string& name, const io::Path& here) {
        return journeys::other_copies(records_, name, here).connected;
    }

    /// Fills in of all bags in how many proven copies they stand, without the old drives (roots,
    /// resolved), and what the policy asks for beyond that.
    void count_copies(std::vector<report::MigratedBag>& bags,
                      const std::vector<io::Path>& old_drives);

    /// Worst first; that the new drive has no identity is said once, of `destination`.
    std::vector<Finding> take_findings(const io::Path& destination);

  private:
    std::optional<shelf::BagRecord> record_of(const io::Path& bag) const;
    void enter_check(const report::MigratedBag& bag, const std::optional<shelf::BagRecord>& met);
    shelf::Facts without(const std::vector<io::Path>& old_drives);
    static bool is_packed_as(const shelf::BagFacts& bag, const std::string& file);
    void judge(const shelf::Facts& facts, report::MigratedBag& bag);

    const Context& context_;
    ShelfRecords records_;
};

}  // namespace glassine::journeys

#pragma once

#include "glassine/bagit/check.h"
#include "glassine/journeys/context.h"
#include "glassine/report/results.h"
#include "glassine/shelf/audit_plan.h"
#include "journeys/shelf_records.h"
#include "journeys/store_checksums.h"

#include <chrono>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::journeys {

/// One bag while it is read.
struct AuditCourse {
    shelf::BagKey key;
    std::string volume;
    std::optional<Timestamp> since;  ///< of the audit that it goes on from
    Timestamp began;
    std::set<std::string, std::less<>> before;
    std::vector<std::string> fresh;  ///< proven since the last time it was written down
    std::chrono::steady_clock::time_point written;
    std::uint64_t taken = 0;  ///< files of `before` that were not read again
};
/// How fast a volume was read, before and now.
struct VolumeRates {
    std::string label;
    std::vector<shelf::RatePoint> earlier;
    std::vector<shelf::RatePoint> now;
};

/// What an audit has to do with the shelf: in which order bags are read, where the last audit
/// stopped, what the seal's witnesses say, what is written down, how fast the drive was. Does
/// nothing for bags that lie on no volume of the shelf.
class AuditBooks {
  public:
    explicit AuditBooks(const Context& context) : context_(context), records_(context) {}

    /// Puts the bags, of all volumes together, into the order of `shelf::plan_audit`: those at risk
    /// first, then the longest unproven; bags that nobody knows yet come first of all.
    void arrange(std::vector<io::Path>& bags);

    /// Before a bag is looked at, in full or not: what an object store says of it is compared with
    /// what it said when it was proven. The options must not outlive this object's next `look`.
    void look(const io::Path& bag, bagit::CheckOptions& options);
    /// The same for an archive, of which there is nothing to wait for.
    void look_at_archive(const io::Path& archive);
    /// What that found in a copy that is not read now (`object-exchanged`).
    std::vector<Finding> exchanged() const;
    bool is_exchanged(std::string_view name) const { return store_ && store_->is_exchanged(name); }

    /// Before a bag is read in full: what an audit that was stopped has proven of it is not read
    /// again, and what is proven now is kept for the next. The options must not outlive this
    /// object's next `begin`.
    void begin(const io::Path& bag, bagit::CheckOptions& options);

    /// The same for an archive, which is read anew each time. Of a compressed one that the shelf
    /// keeps books on, what the check meets is kept, since it would have to be unpacked again to be
    /// written down. The options must not outlive this object's next `begin`.
    void begin_archive(bool compressed, bagit::CheckOptions& options);

    /// After the bag was read: judges its seal (adds `replaced-since-sealed` to its findings) and
    /// writes the check down; of one that was stopped how far it came, and damage that it met.
    /// False when the volume is not there any more: then nothing that was found counts.
    bool end(report::AuditedBag& bag, bool quick);

    /// Whether the next audit goes on with the bag that was begun last: not where it lies on no
    /// volume of the shelf.
    bool keeps_progress() const { return progress_.has_value(); }

    /// How fast the volumes were read, compared with their own earlier audits (`slow-read`).
    std::vector<report::VolumeRate> rates();
    std::vector<Finding> take_findings();

  private:
    void compare_checksums(report::AuditedBag& bag, bool quick);
    void judge_seal(bagit::BagReport& bag);
    void note_damage_so_far(const bagit::BagReport& bag, bool quick);
    void flush();
    void note_rate(const bagit::BagReport& bag);

    const Context& context_;
    ShelfRecords records_;
    std::optional<AuditCourse> progress_;
    std::optional<StoreChecksums> store_;
    std::optional<shelf::BagRecord> met_;       ///< of a compressed archive
    std::map<std::string, VolumeRates> rates_;  ///< by the volume's id
    std::vector<Finding> findings_;
};

}  // namespace glassine::journeys

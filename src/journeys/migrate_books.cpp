#include "journeys/migrate_books.h"

#include "glassine/bagit/archive.h"
#include "glassine/base/text.h"
#include "glassine/journeys/shelf.h"
#include "glassine/shelf/standing.h"
#include "journeys/bag_record.h"
#include "journeys/paths.h"

#include <algorithm>
#include <map>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {

using report::Fate;
using report::MigratedBag;

void MigrateBooks::enter(const io::Path& source, bool exchanged, MigratedBag& bag,
                         const std::optional<shelf::BagRecord>& met) {
    // What was closed out anew wrote itself down.
    if (bag.path.empty() || bag.fate == Fate::failed || bag.fate == Fate::adopted) return;
    if (bag.fate != Fate::damaged && exchanged) {
        bag.fate = Fate::damaged;
        bag.findings.push_back(
            found(FindingKind::replaced_since_sealed, "",
                  "it fits together, but its seal is none that this bag was ever given: content "
                  "and manifests were exchanged together"));
        sort_findings(bag.findings);
    }
    // No replication is noted of what is damaged: it would vouch for a seal that may have rotted.
    if (bag.fate == Fate::damaged || (bag.fate == Fate::already && records_.knows(bag.path)))
        return enter_check(bag, met);
    std::string detail = fmt::format("carried from {}", source.string());
    if (bag.fate == Fate::already) detail += " by an earlier run";
    if (bag.fate == Fate::upgraded) detail += " and upgraded";
    if (!bag.healed.empty())
        detail += fmt::format(", {} healed on the way", text::counted(bag.healed.size(), "file"));
    if (!bag.how.empty()) detail += "; " + bag.how;
    records_.record_copy(bag.path, shelf::event_type::replication, std::move(detail), bag.how, met);
    const auto old = bag.fate == Fate::upgraded ? record_of(source) : std::nullopt;
    if (old)
        records_.record_resealing(bag.path, old->seal,
                                  "new digests, computed in the read that proved the old ones");
}

/// A check of the copy's whole content, as the migration has just made it.
void MigrateBooks::enter_check(const MigratedBag& bag, const std::optional<shelf::BagRecord>& met) {
    bagit::BagReport report;
    report.path = bag.path;
    report.complete = bag.fate != Fate::damaged;
    report.valid = report.complete;
    report.findings = bag.findings;
    records_.record_check(report, false, {}, met);
}

bool MigrateBooks::is_exchanged(const io::Path& source) {
    // An archive may have to be unpacked for it: only where there is something to compare.
    const std::string name = source.filename().string();
    shelf::Register* books = records_.register_if_any();
    if (books == nullptr ||
        books->seal_witnesses(bagit::is_archive_name(name) ? bagit::archive_stem(name) : name)
            .empty())
        return false;
    const auto known = record_of(source);
    return known && !known->seal.empty() &&
           records_.judge_seal(source, known->name, known->seal) == shelf::SealVerdict::replaced;
}

std::optional<shelf::BagRecord> MigrateBooks::record_of(const io::Path& bag) const {
    if (context_.register_file.empty()) return std::nullopt;
    try {
        return bag_record(context_, bag);
    } catch (const Error&) {
        // The bag's own findings tell what is wrong with it.
        return std::nullopt;
    }
}

/// What the register knows, but for copies on the old drives and those that nothing proves.
shelf::Facts MigrateBooks::without(const std::vector<io::Path>& old_drives) {
    shelf::Facts facts;
    if (shelf::Register* books = records_.register_if_any()) facts = books->facts();
    std::map<std::string, io::Path> roots;
    for (const shelf::FoundVolume& volume : records_.connected_volumes())
        roots.emplace(volume.identity.id, volume.root);
    for (shelf::BagFacts& bag : facts.bags)
        std::erase_if(bag.copies, [&](const shelf::CopyFacts& copy) {
            const auto root = roots.find(copy.volume);
            return copy.state != shelf::CopyState::whole ||
                   (root != roots.end() &&
                    std::ranges::any_of(old_drives, [&](const io::Path& drive) {
                        return lies_within(root->second / copy.path, drive);
                    }));
        });
    return facts;
}

/// Whether an archive of that name is a copy of the bag.
bool MigrateBooks::is_packed_as(const shelf::BagFacts& bag, const std::string& file) {
    return std::ranges::any_of(bag.copies, [&](const shelf::CopyFacts& copy) {
        return copy.packed && io::Path(copy.path).filename() == file;
    });
}

void MigrateBooks::judge(const shelf::Facts& facts, MigratedBag& bag) {
    const shelf::Policy policy = shelf_policy(context_.studio);
    const std::string file = io::Path(bag.path).filename().string();
    shelf::BagFacts known;
    for (const shelf::BagFacts& one : facts.bags)
        if ((one.name == file || is_packed_as(one, file)) &&
            one.copies.size() >= known.copies.size())
            known = one;
    const shelf::Standing standing =
        shelf::standing_of(facts, known, policy, utc_date(context_.files.now()));
    bag.copies = standing.copies;
    bag.lacks = standing.lacks;
    // On a drive that the shelf does not know: proven all the same, and forgotten tomorrow.
    if (bag.copies == 0 && report::arrived(bag.fate)) bag.copies = 1;
}

void MigrateBooks::count_copies(std::vector<MigratedBag>& bags,
                                const std::vector<io::Path>& old_drives) {
    shelf::Facts facts;
    try {
        facts = without(old_drives);
    } catch (const Error&) {
        // A register that cannot be read was told when something was to be written into it.
        facts = {};
    }
    for (MigratedBag& bag : bags)
        judge(facts, bag);
}

std::vector<Finding> MigrateBooks::take_findings(const io::Path& destination) {
    std::vector<Finding> all = records_.take_findings();
    const auto unknown = [](const Finding& f) { return f.kind == FindingKind::volume_unknown; };
    const auto first = std::ranges::find_if(all, unknown);
    if (first == all.end()) return all;
    Finding told = *first;
    told.path = destination.string();
    std::erase_if(all, unknown);
    all.push_back(std::move(told));
    return all;
}

}  // namespace glassine::journeys

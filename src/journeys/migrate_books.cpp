#include "journeys/migrate_books.h"

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

void MigrateBooks::enter(const io::Path& source, bool exchanged, MigratedBag& bag) {
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
    if (bag.fate == Fate::damaged || (bag.fate == Fate::already && is_known(bag.path)))
        return enter_check(bag);
    std::string detail = fmt::format("carried from {}", source.string());
    if (bag.fate == Fate::already) detail += " by an earlier run";
    if (bag.fate == Fate::upgraded) detail += " and upgraded";
    if (!bag.healed.empty())
        detail += fmt::format(", {} healed on the way", text::counted(bag.healed.size(), "file"));
    if (!bag.how.empty()) detail += "; " + bag.how;
    records_.record_copy(bag.path, shelf::event_type::replication, std::move(detail));
    if (bag.fate == Fate::upgraded)
        records_.record_resealing(bag.path, seal_of(source),
                                  "new digests, computed in the read that proved the old ones");
}

void MigrateBooks::enter_archive(const io::Path& source, const MigratedBag& archive) {
    if (archive.fate == Fate::carried)
        records_.record_archive(archive.path, shelf::event_type::replication,
                                fmt::format("carried from {}", source.string()));
}

/// A check of the copy's whole content, as the migration has just made it.
void MigrateBooks::enter_check(const MigratedBag& bag) {
    bagit::BagReport report;
    report.path = bag.path;
    report.complete = bag.fate != Fate::damaged;
    report.valid = report.complete;
    report.findings = bag.findings;
    records_.record_check(report, false);
}

bool MigrateBooks::is_exchanged(const io::Path& source) {
    const std::string seal = seal_of(source);
    return !seal.empty() && records_.judge_seal(source, seal) == shelf::SealVerdict::replaced;
}

std::string MigrateBooks::seal_of(const io::Path& bag) const {
    if (context_.register_file.empty()) return "";
    try {
        return bag_record(context_, bag).seal;
    } catch (const Error&) {
        // The bag's own findings tell what is wrong with it.
        return "";
    }
}

bool MigrateBooks::is_known(const io::Path& copy) {
    const io::Path resolved = context_.files.resolve(copy);
    return std::ranges::any_of(
        records_.copies_of(resolved.filename().string()),
        [&](const KnownCopy& known) { return known.folder && *known.folder == resolved; });
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

void MigrateBooks::judge(const shelf::Facts& facts, MigratedBag& bag) {
    const shelf::Policy policy = shelf_policy(context_.studio);
    const std::string name = io::Path(bag.path).filename().string();
    shelf::BagFacts known;
    for (const shelf::BagFacts& one : facts.bags)
        if (one.name == name && one.copies.size() >= known.copies.size()) known = one;
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

#include "glassine/shelf/standing.h"

#include "shelf/tally.h"

#include <algorithm>
#include <map>
#include <set>

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace glassine::shelf {

namespace {

using PlacedCopies = std::vector<Placed>;

/// "A and B stand in one place: cupboard B", for every value that several volumes share.
void say_shared(std::vector<std::string>& sentences, const PlacedCopies& copies,
                std::string VolumeIdentity::*what, const char* shared) {
    std::map<std::string, std::set<std::string>> volumes;
    for (const Placed& placed : copies) {
        const std::string& value = placed.volume->identity.*what;
        if (!value.empty()) volumes[value].insert(placed.volume->name());
    }
    for (const auto& [value, names] : volumes) {
        if (names.size() < 2) continue;
        sentences.push_back(fmt::format("{} {}: {}", fmt::join(names, " and "), shared, value));
    }
}

/// One rung of a ladder of levels: holds or not, and what it asks for.
struct Rung {
    bool holds;
    const char* asks;
};

unsigned climb(std::span<const Rung> ladder, std::string& next) {
    unsigned level = 0;
    for (const Rung& rung : ladder) {
        if (!rung.holds) {
            next = rung.asks;
            return level;
        }
        ++level;
    }
    return level;
}

/// NDSA 2.0, Storage. Full copies are those proven whole; two disks in one room are one place.
void judge_storage(Standing& standing, const PlacedCopies& whole) {
    const Tally tally = tally_of(whole);
    std::set<std::string> places;
    bool ages_known = true;
    for (const Placed& placed : whole) {
        const VolumeIdentity& identity = placed.volume->identity;
        // Places that nobody wrote down cannot be shown to be separate.
        const bool off_site = identity.kind == VolumeKind::offsite;
        places.insert((off_site ? "off site: " : "here: ") + identity.place);
        ages_known = ages_known && (identity.in_service || identity.kind == VolumeKind::offsite);
    }
    const bool elsewhere = tally.off_site > 0 && places.size() > 1;
    const Rung ladder[] = {
        {tally.copies >= 2 && places.size() >= 2, "two proven copies in separate places"},
        {tally.copies >= 3 && elsewhere, "three proven copies, one of them off site"},
        {tally.media_kinds >= 2 && ages_known,
         "a copy on another kind of medium, and the age of every medium"},
    };
    standing.storage_level = climb(ladder, standing.next_storage);
}

/// NDSA 2.0, Integrity, without what a register cannot know (viruses, write-blockers).
void judge_integrity(Standing& standing, const BagFacts& bag, const PlacedCopies& counting) {
    const auto all = [&](auto rule) {
        return !counting.empty() &&
               std::all_of(counting.begin(), counting.end(),
                           [&](const Placed& placed) { return rule(*placed.copy); });
    };
    const bool nothing_broken =
        std::none_of(bag.copies.begin(), bag.copies.end(), [](const CopyFacts& copy) {
            return copy.state == CopyState::damaged || copy.state == CopyState::replaced ||
                   copy.state == CopyState::missing;
        });
    const bool checked_after_errors =
        std::all_of(bag.copies.begin(), bag.copies.end(), [&](const CopyFacts& broken) {
            return !broken.last_error || all([&](const CopyFacts& copy) {
                return copy.proven && *copy.proven >= *broken.last_error;
            });
        });
    const Rung ladder[] = {
        {bag.payload_files > 0, "digests of every file"},
        {all([](const CopyFacts& copy) { return copy.proven.has_value(); }),
         "every copy read in full and compared once"},
        {standing.whole == standing.copies && standing.copies > 0,
         "every copy proven within the audit interval"},
        {nothing_broken && checked_after_errors,
         "damage repaired, and every copy read again after it was found"},
    };
    standing.integrity_level = climb(ladder, standing.next_integrity);
}

}  // namespace

std::optional<Date> audit_day(const CopyFacts& copy, const Policy& policy) {
    if (!copy.proven || policy.audit_every.is_never()) return std::nullopt;
    return later(utc_date(*copy.proven), policy.audit_every);
}

bool proven_lately(const CopyFacts& copy, const Policy& policy, Date today) {
    if (copy.state != CopyState::whole) return false;
    const auto day = audit_day(copy, policy);
    return !day || today <= *day;
}

Standing standing_of(const Facts& facts, const BagFacts& bag, const Policy& policy, Date today) {
    Standing standing;
    const PlacedCopies counting =
        separate(placed_copies(facts, bag, [](const CopyFacts& copy) { return copy.counts(); }));
    const Tally tally = tally_of(counting);
    standing.copies = tally.copies;
    standing.volumes = tally.volumes;
    standing.off_site = tally.off_site;
    standing.media_kinds = tally.media_kinds;
    standing.lacks = lacks(tally, policy);
    bool all_proven = !counting.empty();
    for (const Placed& placed : counting) {
        const auto& proven = placed.copy->proven;
        if (proven_lately(*placed.copy, policy, today)) ++standing.whole;
        if (!proven) all_proven = false;
        if (proven && (!standing.proven || *proven < *standing.proven)) standing.proven = proven;
    }
    if (!all_proven) standing.proven.reset();
    say_shared(standing.weaknesses, counting, &VolumeIdentity::place, "stand in one place");
    say_shared(standing.weaknesses, counting, &VolumeIdentity::purchase, "are of one purchase");
    standing.promised_until = promised_until(bag, policy);
    standing.keep_until = keep_until(bag, policy);
    standing.let_go_after = let_go_after(bag, policy);
    judge_storage(standing, placed_copies(facts, bag, [](const CopyFacts& copy) {
                      return copy.state == CopyState::whole;
                  }));
    judge_integrity(standing, bag, counting);
    return standing;
}

}  // namespace glassine::shelf

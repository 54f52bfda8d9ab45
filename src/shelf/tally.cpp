#include "shelf/tally.h"

#include <algorithm>
#include <set>

#include <fmt/format.h>

namespace glassine::shelf {

namespace {

void lack(std::vector<std::string>& lacks, unsigned has, unsigned wanted, const char* what) {
    if (has < wanted) lacks.push_back(fmt::format("{} of {} {}", has, wanted, what));
}

std::optional<Date> counted_from(const BagFacts& bag, Period period) {
    const std::optional<Date>& start = bag.shoot_date ? bag.shoot_date : bag.sealed;
    if (!start || period.is_never()) return std::nullopt;
    return later(*start, period);
}

}  // namespace

std::vector<Placed> placed_copies(const Facts& facts, const BagFacts& bag,
                                  const std::function<bool(const CopyFacts&)>& wanted) {
    std::vector<Placed> placed;
    for (const CopyFacts& copy : bag.copies) {
        const VolumeFacts* volume = facts.volume(copy.volume);
        if (volume && wanted(copy)) placed.push_back({&copy, volume});
    }
    return placed;
}

std::vector<Placed> separate(std::vector<Placed> copies) {
    std::set<std::string> folders;
    for (const Placed& placed : copies)
        if (!placed.copy->packed) folders.insert(placed.copy->volume);
    std::erase_if(copies, [&](const Placed& placed) {
        return placed.copy->packed && folders.contains(placed.copy->volume);
    });
    return copies;
}

Tally tally_of(const std::vector<Placed>& copies) {
    std::set<std::string> volumes;
    std::set<VolumeKind> kinds;
    Tally tally;
    for (const Placed& placed : separate(copies)) {
        ++tally.copies;
        volumes.insert(placed.copy->volume);
        kinds.insert(placed.volume->identity.kind);
        if (placed.volume->identity.kind == VolumeKind::offsite) ++tally.off_site;
    }
    tally.volumes = static_cast<unsigned>(volumes.size());
    tally.media_kinds = static_cast<unsigned>(kinds.size());
    return tally;
}

std::vector<std::string> lacks(const Tally& tally, const Policy& policy) {
    std::vector<std::string> result;
    lack(result, tally.copies, policy.copies, "copies");
    if (tally.copies >= policy.copies) lack(result, tally.volumes, policy.volumes, "volumes");
    lack(result, tally.off_site, policy.off_site, "copies off site");
    lack(result, tally.media_kinds, policy.media_kinds, "kinds of media");
    return result;
}

std::optional<Date> promised_until(const BagFacts& bag, const Policy& policy) {
    return bag.promised_until ? bag.promised_until : counted_from(bag, policy.promised);
}

std::optional<Date> keep_until(const BagFacts& bag, const Policy& policy) {
    return bag.keep_until ? bag.keep_until : counted_from(bag, policy.keep);
}

std::optional<Date> let_go_after(const BagFacts& bag, const Policy& policy) {
    const auto keep = keep_until(bag, policy);
    return keep ? std::max(keep, promised_until(bag, policy)) : std::nullopt;
}

}  // namespace glassine::shelf

#include "shelf/due_command.h"

#include "glassine/base/text.h"

#include <algorithm>

#include <fmt/format.h>

namespace glassine::shelf {

namespace {

bool holds(const std::vector<Placed>& copies, const VolumeFacts& volume) {
    return std::any_of(copies.begin(), copies.end(), [&](const Placed& placed) {
        return placed.copy->volume == volume.identity.id;
    });
}

/// How far a volume is from those that hold the bag already: what may fail together counts against
/// it.
int independence(const VolumeFacts& candidate, const std::vector<Placed>& copies) {
    int points = 0;
    for (const Placed& placed : copies) {
        const VolumeIdentity& other = placed.volume->identity;
        if (other.place != candidate.identity.place) ++points;
        if (other.kind != candidate.identity.kind) ++points;
        if (other.purchase.empty() || other.purchase != candidate.identity.purchase) ++points;
    }
    return points;
}

}  // namespace

std::string place_of_copy(const Placed& copy) {
    const std::string& root = copy.volume->root.empty() ? copy.volume->name() : copy.volume->root;
    if (copy.copy->path.empty()) return root;
    return root.ends_with('/') ? root + copy.copy->path : root + "/" + copy.copy->path;
}

std::string folder_of_copy(const Placed& copy) {
    const std::string place = place_of_copy(copy);
    const std::size_t slash = place.rfind('/');
    return slash == std::string::npos || slash == 0 ? place : place.substr(0, slash);
}

std::string name_and_place(const VolumeFacts& volume) {
    if (volume.identity.place.empty()) return volume.name();
    return fmt::format("{} ({})", volume.name(), volume.identity.place);
}

std::map<std::string, std::uint64_t, std::less<>> used_bytes(const Facts& facts) {
    std::map<std::string, std::uint64_t, std::less<>> used;
    for (const BagFacts& bag : facts.bags) {
        for (const CopyFacts& copy : bag.copies) {
            if (copy.is_there()) used[copy.volume] += bag.payload_bytes;
        }
    }
    return used;
}

std::string destination_for(const Facts& facts,
                            const std::map<std::string, std::uint64_t, std::less<>>& used,
                            const BagFacts& bag, const std::vector<Placed>& copies,
                            const Policy& policy, Date today) {
    const auto has_room = [&](const VolumeFacts& volume) {
        const auto known = used.find(volume.identity.id);
        const std::uint64_t taken = known == used.end() ? 0 : known->second;
        const std::uint64_t capacity = volume.identity.capacity;
        return capacity == 0 || taken + bag.payload_bytes <= capacity;
    };
    const Tally tally = tally_of(copies);
    const bool off_site = tally.off_site < policy.off_site;
    const VolumeFacts* best = nullptr;
    for (const VolumeFacts& volume : facts.volumes) {
        const bool fits = (volume.identity.kind == VolumeKind::offsite) == off_site &&
                          volume.identity.kind != VolumeKind::server && !volume.retired &&
                          !volume.root.empty() && !holds(copies, volume) &&
                          !replacement_of(volume, policy, today) && has_room(volume);
        if (!fits) continue;
        if (!best || independence(volume, copies) > independence(*best, copies)) best = &volume;
    }
    if (best) return text::for_shell(best->root);
    return off_site ? "OFF-SITE" : "NEW-DRIVE";
}

std::optional<Replacement> replacement_of(const VolumeFacts& volume, const Policy& policy,
                                          Date today) {
    if (volume.retired) return std::nullopt;
    std::optional<Replacement> result;
    if (volume.first_error && volume.last_error && !policy.error_span.is_never()) {
        const Date second = utc_date(*volume.last_error);
        if (second > later(utc_date(*volume.first_error), policy.error_span)) {
            result = {second, "errors were found on it a second time"};
        }
    }
    const VolumeIdentity& identity = volume.identity;
    if (identity.kind != VolumeKind::server && identity.in_service &&
        !policy.drive_age.is_never()) {
        const Date old = later(*identity.in_service, policy.drive_age);
        if (old <= today && (!result || old < result->since)) {
            result = {old, fmt::format("in service since {}", iso_date(*identity.in_service))};
        }
    }
    return result;
}

}  // namespace glassine::shelf

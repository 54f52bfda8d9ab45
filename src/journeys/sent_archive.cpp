#include "journeys/sent_archive.h"

#include "journeys/carry_archive.h"

#include <algorithm>

namespace glassine::journeys {
namespace {

std::string failure_of(const std::optional<CarriedArchive>& carried) {
    if (!carried) return "what was sealed on the drive does not read as a bag any more";
    if (!carried->bag.failure.empty()) return carried->bag.failure;
    const auto damage =
        std::ranges::find(carried->bag.findings, Severity::damage, &Finding::severity);
    return damage == carried->bag.findings.end() ? "it was not proven"
                                                 : "it arrived with damage: " + damage->detail;
}

}  // namespace

report::Copy send_archive(const Context& context, const io::Path& sealed, const Place& place) {
    report::Copy copy;
    copy.destination = place.destination;
    try {
        const io::Path target(place.path);
        const auto carried = carry_archive(context, {sealed, target.parent_path(), {}});
        copy.verified = carried && report::arrived(carried->bag.fate);
        if (!copy.verified) {
            copy.failure = failure_of(carried);
            return copy;
        }
        copy.path = carried->bag.path;
        copy.how = carried->bag.how;
    } catch (const Error& error) {
        copy.failure = error.sentence();
    }
    return copy;
}

}  // namespace glassine::journeys

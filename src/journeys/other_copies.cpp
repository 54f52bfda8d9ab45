#include "journeys/other_copies.h"

#include <fmt/format.h>

namespace glassine::journeys {

OtherCopies other_copies(ShelfRecords& records, const std::string& name, const io::Path& here) {
    OtherCopies others;
    for (const KnownCopy& copy : records.copies_of(name)) {
        if (copy.facts.state == shelf::CopyState::replaced || copy.stands == here) continue;
        if (copy.stands) {
            others.connected.push_back(*copy.stands);
            continue;
        }
        const shelf::VolumeIdentity& volume = copy.volume;
        others.elsewhere.push_back(volume.place.empty()
                                       ? volume.label
                                       : fmt::format("{} ({})", volume.label, volume.place));
    }
    return others;
}

std::vector<Finding> copies_to_fetch(const std::vector<std::string>& elsewhere) {
    std::vector<Finding> notes;
    notes.reserve(elsewhere.size());
    for (const std::string& place : elsewhere)
        notes.push_back(found(
            FindingKind::beyond_repair, Severity::note, "",
            fmt::format("there is another copy on {}: connect it and run this again", place)));
    return notes;
}

}  // namespace glassine::journeys

#include "journeys/shelf_records.h"

#include "glassine/bagit/archive.h"
#include "glassine/base/text.h"
#include "glassine/io/files.h"
#include "glassine/shelf/volume_log.h"
#include "journeys/bag_record.h"
#include "journeys/store_checksums.h"

#include <algorithm>
#include <array>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {

using shelf::Event;
using shelf::Outcome;
namespace t = shelf::event_type;

namespace {

/// Notes that one event keeps; an audit of a dead drive would otherwise fill every log.
constexpr std::size_t most_notes = 100;

std::vector<std::string> notes_of(const std::vector<Finding>& findings) {
    std::vector<std::string> notes;
    std::size_t left_out = 0;
    for (const Finding& f : findings) {
        if (f.severity != Severity::damage) continue;
        if (notes.size() == most_notes) {
            ++left_out;
            continue;
        }
        notes.push_back(
            fmt::format("{}{}{}: {}", f.path, f.path.empty() ? "" : ": ", word(f.kind), f.detail));
    }
    if (left_out > 0) notes.push_back(fmt::format("and {} more", left_out));
    return notes;
}

/// How a check ended for the books. A bag with a checksum that nobody here can compute is neither
/// proven nor accused.
Outcome outcome_of(const bagit::BagReport& report, bool quick) {
    if (any_at_least(report.findings, Severity::damage) || !report.complete)
        return Outcome::failure;
    if (!quick && !report.valid.value_or(false)) return Outcome::partial;
    return Outcome::success;
}

}  // namespace

/// A bag on a volume.
struct ShelfRecords::Place {
    shelf::FoundVolume volume;
    std::string path;  ///< below the volume's root
    std::string bag;
    std::string seal;
    std::string media_type;  ///< of an archive
};

ShelfRecords::ShelfRecords(const Context& context) : context_(context) {}
ShelfRecords::~ShelfRecords() = default;

std::vector<Finding> ShelfRecords::take_findings() {
    sort_findings(findings_);
    return std::exchange(findings_, {});
}

/// Nothing is said twice.
void ShelfRecords::tell(Finding finding) {
    if (told_.insert(fmt::format("{} {} {}", word(finding.kind), finding.path, finding.detail))
            .second)
        findings_.push_back(std::move(finding));
}

const shelf::FoundVolume* ShelfRecords::volume_of(const io::Path& path) {
    const io::Path folder = path.parent_path();
    const auto known = volumes_.find(folder);
    if (known != volumes_.end()) return known->second ? &*known->second : nullptr;
    std::optional<shelf::FoundVolume>& found_here = volumes_[folder];
    try {
        found_here = shelf::find_volume(context_.files, path);
        const auto doubts = found_here ? shelf::check_witness(*found_here) : std::vector<Finding>();
        for (const Finding& doubt : doubts)
            tell(doubt);
        // Which of the two it is only a person can tell; nothing is written under a wrong name.
        if (!doubts.empty()) found_here.reset();
    } catch (const Error& error) {
        tell(found(FindingKind::not_recorded, path.string(), error.sentence()));
    }
    return found_here ? &*found_here : nullptr;
}

std::optional<ShelfRecords::Place> ShelfRecords::place_of(const io::Path& bag, bool is_new) {
    if (context_.register_file.empty()) return std::nullopt;
    const io::Path resolved = context_.files.resolve(bag);
    const shelf::FoundVolume* volume = volume_of(resolved);
    if (volume != nullptr)
        return Place{*volume, volume->relative(resolved), resolved.filename().string(), {}, {}};
    const bool in_doubt = std::ranges::any_of(findings_, [](const Finding& f) {
        return f.kind == FindingKind::volume_cloned || f.kind == FindingKind::not_recorded;
    });
    // Whoever keeps no register and only looks at a bag is not told about it each time.
    if (!in_doubt && (is_new || context_.files.find(context_.register_file)))
        tell(found(FindingKind::volume_unknown, resolved.parent_path().string(),
                   "it lies on no volume of the shelf, so that the register does not know what is "
                   "here; `glassine shelf add` gives the drive an identity, `glassine shelf scan` "
                   "takes in what is on it"));
    return std::nullopt;
}

Event ShelfRecords::about(const Place& place, std::string_view type, Outcome outcome,
                          std::string detail, Timestamp time) const {
    Event event = shelf::new_event(type, time, outcome, std::move(detail));
    event.with_object(shelf::object_type::bag, place.bag);
    if (!place.seal.empty()) event.with_object(shelf::object_type::seal, place.seal);
    event.with_object(shelf::object_type::volume, place.volume.identity.id);
    event.with_object(shelf::object_type::path, place.path);
    if (!place.media_type.empty())
        event.with_object(shelf::object_type::media_type, place.media_type);
    if (!context_.person.empty()) event.with_agent("person", context_.person, "implementer");
    return event;
}

/// What the bag says of itself, also into `place`.
shelf::BagRecord ShelfRecords::look_into(const io::Path& bag, Place& place) {
    shelf::BagRecord record = bag_record(context_, bag);
    take(record, place);
    return record;
}

void ShelfRecords::take(shelf::BagRecord& record, Place& place) const {
    record.volume = place.volume.identity.id;
    record.path = place.path;
    place.bag = record.name;
    place.seal = record.seal;
    place.media_type = record.media_type;
}

/// The copy that the register knows at that place, of whatever bag; null if there is none.
const shelf::CopyFacts* ShelfRecords::known_at(Place& place) {
    for (const shelf::BagFacts& known : facts().bags)
        for (const shelf::CopyFacts& copy : known.copies)
            if (copy.volume == place.volume.identity.id && copy.path == place.path &&
                copy.is_there()) {
                place.bag = known.name;
                return &copy;
            }
    return nullptr;
}

/// Fills in which bag stands at the place, from the register if it knows, from the bag if not.
void ShelfRecords::identify(const io::Path& bag, Place& place) {
    const shelf::CopyFacts* known = known_at(place);
    if (known == nullptr) {
        look_into(bag, place);
        return;
    }
    place.seal = known->seal;
    if (known->packed) place.media_type = bagit::archive_media_type(place.path);
}

void ShelfRecords::write_log(const shelf::FoundVolume& volume, const std::vector<Event>& events) {
    try {
        shelf::append_to_volume_log(context_.files, volume.root, events);
    } catch (const Error& error) {
        const bool meant_so = error.cause() == Cause::read_only;
        tell(found(FindingKind::not_recorded, meant_so ? Severity::note : Severity::warning,
                   (volume.root / shelf::event_log_name).string(),
                   meant_so ? "the volume is read-only: what was done stands in the register, not "
                              "in the volume's own log"
                            : error.sentence()));
    }
}

void ShelfRecords::write(const Place& place, const std::vector<Event>& events,
                         const shelf::BagRecord* bag) {
    write_log(place.volume, events);
    try {
        shelf::Register* books = open(true);
        if (books == nullptr) return;
        shelf::Register::Batch batch(*books);
        books->record_volume(place.volume.identity, place.volume.root);
        if (bag != nullptr) {
            books->record_bag(*bag);
            // What stood at this place under another seal is not there any more.
            const shelf::SeenCopy seen{{bag->name, bag->seal}, !bag->media_type.empty()};
            books->finish_scan(place.volume.identity.id, place.path, {&seen, 1});
        }
        books->record_events(events);
        batch.commit();
        facts_.reset();
    } catch (const Error& error) {
        tell(found(FindingKind::not_recorded, context_.register_file.string(),
                   fmt::format("{}; `glassine shelf scan {}` makes up for it", error.sentence(),
                               place.volume.root.string())));
    }
}

void ShelfRecords::record_volume(const shelf::FoundVolume& volume) {
    try {
        if (shelf::Register* books = open(true)) books->record_volume(volume.identity, volume.root);
        facts_.reset();
    } catch (const Error& error) {
        tell(found(FindingKind::not_recorded, context_.register_file.string(), error.sentence()));
    }
}

void ShelfRecords::record(const Event& event, const shelf::FoundVolume* volume) {
    if (context_.register_file.empty()) return;
    if (volume != nullptr) write_log(*volume, {event});
    try {
        if (shelf::Register* books = open(true)) books->record_event(event);
    } catch (const Error& error) {
        tell(found(FindingKind::not_recorded, context_.register_file.string(), error.sentence()));
    }
}

void ShelfRecords::record_copy(const io::Path& bag, std::string_view how, std::string detail,
                               std::string_view proof, std::optional<shelf::BagRecord> met) try {
    auto place = place_of(bag, true);
    if (!place) return;
    if (met)
        take(*met, *place);
    else
        met = look_into(bag, *place);
    const Timestamp now = context_.files.now();
    const std::vector<Event> events{
        about(*place, how, Outcome::success, std::move(detail), now),
        about(*place, t::fixity_check, Outcome::success, fmt::format("{}; all files", proof),
              Timestamp{now.nanoseconds + 1000})};
    write(*place, events, &*met);
    note_store_checksums(context_, *this, bag);
} catch (const Error& error) {
    tell(found(FindingKind::not_recorded, bag.string(), error.sentence()));
}

void ShelfRecords::record_resealing(const io::Path& bag, const std::string& old_seal,
                                    std::string detail) try {
    auto place = place_of(bag);
    if (!place) return;
    const std::string seal = bag_record(context_, bag).seal;
    Event event = about(*place, t::message_digest_calculation, Outcome::success, std::move(detail),
                        context_.files.now());
    if (!old_seal.empty()) event.with_object(shelf::object_type::seal, old_seal, "source");
    event.with_object(shelf::object_type::seal, seal, "outcome");
    write(*place, {event}, nullptr);
} catch (const Error& error) {
    tell(found(FindingKind::not_recorded, bag.string(), error.sentence()));
}

void ShelfRecords::record_check(const bagit::BagReport& report, bool quick,
                                std::optional<Timestamp> since,
                                std::optional<shelf::BagRecord> met) try {
    auto place = place_of(report.path);
    if (!place) return;
    const Outcome outcome = outcome_of(report, quick);
    if (met)
        take(*met, *place);
    else
        met = record_if_readable(report, outcome, *place);
    // A tag manifest that has rotted gives another seal; it is the known copy that is damaged. One
    // that goes with everything else in the bag was exchanged.
    bool known_copy = !met;
    if (met && outcome == Outcome::failure && !report.valid.value_or(quick))
        for (const KnownCopy& copy : copies_of(place->bag))
            if (copy.volume.id == place->volume.identity.id && copy.facts.path == place->path &&
                copy.facts.seal != met->seal) {
                place->seal = copy.facts.seal;
                known_copy = true;
            }
    Event event = about(*place, quick ? t::validation : t::fixity_check, outcome,
                        quick ? "names, sizes and structure" : "all digests, all files",
                        since.value_or(context_.files.now()));
    event.outcome_detail = notes_of(report.findings);
    if (!quick && report.bytes_read > 0)
        event.with_figure(shelf::figure::bytes, fmt::format("{}", report.bytes_read))
            .with_figure(shelf::figure::seconds, fmt::format("{:.3f}", report.seconds));
    write(*place, {event}, known_copy || met->seal.empty() ? nullptr : &*met);
} catch (const Error& error) {
    tell(found(FindingKind::not_recorded, report.path, error.sentence()));
}

/// An archive may be damaged so that nothing can be learnt from it any more: then it is the copy
/// that the register knows there.
std::optional<shelf::BagRecord> ShelfRecords::record_if_readable(const bagit::BagReport& report,
                                                                 Outcome outcome,
                                                                 Place& place) try {
    return look_into(report.path, place);
} catch (const Error& error) {
    const shelf::CopyFacts* known = known_at(place);
    if (error.cause() == Cause::interrupted || outcome != Outcome::failure || known == nullptr)
        throw;
    place.seal = known->seal;
    if (known->packed) place.media_type = bagit::archive_media_type(place.path);
    return std::nullopt;
}

bool ShelfRecords::knows(const io::Path& copy) try {
    auto place = place_of(copy);
    return place && known_at(*place) != nullptr;
} catch (const Error& error) {
    tell(found(FindingKind::not_recorded, copy.string(), error.sentence()));
    return false;
}

void ShelfRecords::record_damage(const io::Path& bag, std::vector<std::string> notes) try {
    auto place = place_of(bag);
    if (!place) return;
    identify(bag, *place);
    Event event = about(*place, t::fixity_check, Outcome::failure,
                        "met while files were handed out", context_.files.now());
    notes.resize(std::min(notes.size(), most_notes));
    event.outcome_detail = std::move(notes);
    write(*place, {event}, nullptr);
} catch (const Error& error) {
    tell(found(FindingKind::not_recorded, bag.string(), error.sentence()));
}

void ShelfRecords::record_presence(const io::Path& bag, const std::string& seal) try {
    auto place = place_of(bag);
    if (!place) return;
    const shelf::CopyFacts* known = known_at(*place);
    if (known != nullptr && known->seal == seal) return;
    // A seal that somebody else has given may come from a tag manifest that has rotted: the end of
    // the check tells, and it is no use to go on from here then.
    if (judge_seal(bag, place->bag, seal).value_or(shelf::SealVerdict::as_sealed) !=
        shelf::SealVerdict::as_sealed)
        return;
    const shelf::BagRecord record = look_into(bag, *place);
    if (record.seal == seal) write(*place, {}, &record);
} catch (const Error& error) {
    tell(found(FindingKind::not_recorded, bag.string(), error.sentence()));
}

void ShelfRecords::record_recovery(const io::Path& bag, Outcome outcome, std::string detail,
                                   std::vector<std::string> notes) try {
    auto place = place_of(bag);
    if (!place) return;
    look_into(bag, *place);
    Event event = about(*place, t::recovery, outcome, std::move(detail), context_.files.now());
    notes.resize(std::min(notes.size(), most_notes));
    event.outcome_detail = std::move(notes);
    write(*place, {event}, nullptr);
} catch (const Error& error) {
    tell(found(FindingKind::not_recorded, bag.string(), error.sentence()));
}

void ShelfRecords::record_dissemination(const io::Path& bag, std::string detail,
                                        const std::string& target) try {
    auto place = place_of(bag);
    if (!place) return;
    identify(bag, *place);
    Event event =
        about(*place, t::dissemination, Outcome::success, std::move(detail), context_.files.now());
    event.with_object(shelf::object_type::path, target, "outcome");
    write(*place, {event}, nullptr);
} catch (const Error& error) {
    tell(found(FindingKind::not_recorded, bag.string(), error.sentence()));
}

}  // namespace glassine::journeys

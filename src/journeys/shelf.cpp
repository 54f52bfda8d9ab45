#include "glassine/journeys/shelf.h"

#include "glassine/base/text.h"
#include "glassine/io/files.h"
#include "glassine/shelf/register.h"
#include "glassine/shelf/volume_log.h"
#include "journeys/places.h"
#include "journeys/shelf_records.h"

#include <algorithm>
#include <iterator>
#include <utility>

namespace glassine::journeys {
namespace {

using report::Ending;
using shelf::Register;

const io::Path& place_of_register(const Context& context) {
    if (context.register_file.empty())
        throw Error(Cause::usage, "open the register", "", "no place for it is known",
                    "name one with --register, or set XDG_DATA_HOME or HOME");
    return context.register_file;
}

template <typename Result>
Result begun(const Context& context, const std::string& command) {
    Result result;
    result.command = command;
    result.started = context.files.now();
    return result;
}

shelf::Period period(const job::Period& p) {
    return {p.months, p.days};
}

shelf::FoundVolume identify(const Context& context, const ShelfAddRequest& request) {
    io::FileSystem& files = context.files;
    const auto folder = files.find(
        writable_folder(context, request.volume.string(), "give the volume an identity"));
    // In a store a folder comes with the first thing in it, here the identity.
    if (folder ? folder->type != io::FileType::directory : files.has_folders(request.volume))
        throw Error(Cause::not_found, "give the volume an identity", request.volume.string(),
                    "there is no such folder", "check that the drive is connected");
    auto standing = shelf::volume_at(files, request.volume);
    if (!standing) return shelf::add_volume(files, request.volume, request.details);
    if (!request.change && !request.new_identity)
        throw Error(Cause::exists, "give the volume an identity", request.volume.string(),
                    "it is " + standing->identity.label + " already",
                    "`--change` changes what is known of it; `--new-identity` makes a cloned drive "
                    "a volume of its own");
    if (request.new_identity) standing = shelf::renew_identity(files, *standing);
    shelf::VolumeDetails details = request.details;
    if (request.keep_kind) details.kind = standing->identity.kind;
    return shelf::change_volume(files, *standing, details);
}

/// An accession, so that the volume's own log begins with the day on which it came to the shelf.
void note_arrival(ShelfRecords& records, const Context& context, const shelf::FoundVolume& volume) {
    shelf::Event event =
        shelf::new_event(shelf::event_type::accession, context.files.now(), shelf::Outcome::success,
                         "taken onto the shelf as " + volume.identity.label);
    event.with_object(shelf::object_type::volume, volume.identity.id);
    if (!context.person.empty()) event.with_agent("person", context.person, "implementer");
    records.record(event, &volume);
}

bool is_retired(ShelfRecords& records, const shelf::FoundVolume& volume) {
    Register* books = records.register_if_any();
    if (books == nullptr) return false;
    const shelf::Facts facts = books->facts();
    const shelf::VolumeFacts* known = facts.volume(volume.identity.id);
    return known != nullptr && known->retired.has_value();
}

}  // namespace

shelf::Policy shelf_policy(const job::Studio& studio) {
    const job::Policy& from = studio.policy;
    shelf::Policy policy;
    policy.copies = from.copies;
    policy.off_site = from.off_site;
    policy.volumes = from.volumes;
    policy.media_kinds = from.media_kinds;
    policy.audit_every = period(from.audit_every);
    policy.server_keeps = period(from.server_keeps);
    policy.promised = period(from.promised);
    policy.keep = period(from.keep);
    policy.drive_age = period(from.drive_age);
    policy.clear_copies = from.clear_copies;
    policy.clears_media = studio.clears_media;
    return policy;
}

report::ShelfAddResult shelf_add(const Context& context, const ShelfAddRequest& request) {
    auto result = begun<report::ShelfAddResult>(context, "shelf add");
    place_of_register(context);
    const shelf::FoundVolume volume = identify(context, request);
    result.volume = volume.identity;
    result.root = volume.root.string();
    ShelfRecords records(context);
    records.record_volume(volume);
    if (!request.change || is_retired(records, volume)) note_arrival(records, context, volume);
    result.findings = records.take_findings();
    result.finished = context.files.now();
    return result;
}

report::ShelfOverview shelf_overview(const Context& context) {
    auto result = begun<report::ShelfOverview>(context, "shelf list");
    Register books(context.files, place_of_register(context));
    result.register_file = context.register_file.string();
    result.today = utc_date(result.started);
    result.policy = shelf_policy(context.studio);
    result.facts = books.facts();
    for (const shelf::BagFacts& bag : result.facts.bags)
        result.standings.push_back(
            shelf::standing_of(result.facts, bag, result.policy, result.today));
    result.due = shelf::what_is_due(result.facts, result.policy, result.today);
    result.finished = context.files.now();
    return result;
}

report::ShelfFindResult shelf_find(const Context& context, const std::string& words) {
    auto result = begun<report::ShelfFindResult>(context, "shelf find");
    if (text::fold_for_search(words).empty())
        throw Error(Cause::usage, "find", "", "there is no word to look for",
                    "name a client, a date, a few words of the description or a frame");
    Register books(context.files, place_of_register(context));
    result.words = words;
    shelf::Facts facts = books.facts();
    const shelf::Policy policy = shelf_policy(context.studio);
    const Date today = utc_date(result.started);
    for (shelf::SearchHit& hit : shelf::find_bags(books, words)) {
        const shelf::Standing standing = shelf::standing_of(facts, hit.bag, policy, today);
        result.hits.push_back({std::move(hit), standing});
    }
    result.volumes = std::move(facts.volumes);
    if (result.hits.empty()) result.ending = Ending::attention;
    result.finished = context.files.now();
    return result;
}

report::ShelfDueResult shelf_due(const Context& context) {
    auto result = begun<report::ShelfDueResult>(context, "shelf due");
    report::ShelfOverview shelf = shelf_overview(context);
    result.today = shelf.today;
    result.items = std::move(shelf.due);
    result.facts = std::move(shelf.facts);
    if (!result.items.empty()) result.ending = Ending::attention;
    result.finished = context.files.now();
    return result;
}

namespace {

const shelf::VolumeFacts& volume_named(const Context& context, const shelf::Facts& facts,
                                       const std::string& which) {
    const auto at =
        context.files.find(which) ? shelf::find_volume(context.files, which) : std::nullopt;
    std::vector<const shelf::VolumeFacts*> answers;
    for (const shelf::VolumeFacts& volume : facts.volumes) {
        const shelf::VolumeIdentity& identity = volume.identity;
        if (identity.id == which || (at && identity.id == at->identity.id) ||
            text::fold_case(identity.label) == text::fold_case(which))
            answers.push_back(&volume);
    }
    if (answers.size() == 1) return *answers.front();
    throw Error(Cause::not_found, "find the volume", which,
                answers.empty() ? "no volume of that label, id or path is known"
                                : "more than one volume has this label",
                answers.empty() ? "`glassine shelf list` shows all volumes"
                                : "name it by its id; `glassine shelf list --json` shows it");
}

}  // namespace

report::ShelfRetireResult shelf_retire(const Context& context, const std::string& which) {
    auto result = begun<report::ShelfRetireResult>(context, "shelf retire");
    Register books(context.files, place_of_register(context));
    const shelf::Facts facts = books.facts();
    const shelf::VolumeFacts& volume = volume_named(context, facts, which);
    result.volume = volume.identity;
    for (const shelf::BagFacts& bag : facts.bags)
        if (std::ranges::any_of(bag.copies, [&](const shelf::CopyFacts& copy) {
                return copy.volume == volume.identity.id && copy.is_there();
            }))
            result.bags.push_back(bag.name);
    shelf::Event event =
        shelf::new_event(shelf::event_type::deaccession, context.files.now(),
                         shelf::Outcome::success, "taken out of service: " + volume.name());
    event.with_object(shelf::object_type::volume, volume.identity.id);
    if (!context.person.empty()) event.with_agent("person", context.person, "implementer");
    ShelfRecords records(context);
    records.record(event);
    for (const shelf::FoundVolume& other : records.connected_volumes())
        records.record(event, &other);
    result.findings = records.take_findings();
    result.finished = context.files.now();
    return result;
}

namespace {

/// When the first of the volume's copies has to be read again.
std::optional<Date> next_audit(const report::ShelfOverview& shelf, const std::string& volume) {
    std::optional<Date> next;
    const auto sooner = [&](std::optional<Date> day) {
        if (day && (!next || *day < *next)) next = day;
    };
    for (const shelf::DueItem& item : shelf.due)
        if (item.volume == volume && (item.kind == shelf::DueKind::audit_at_risk ||
                                      item.kind == shelf::DueKind::audit_overdue))
            sooner(item.since);
    for (const shelf::BagFacts& bag : shelf.facts.bags)
        for (const shelf::CopyFacts& copy : bag.copies)
            if (copy.volume == volume && copy.is_there())
                sooner(shelf::audit_day(copy, shelf.policy));
    return next;
}

report::VolumeLabel label_of(const report::ShelfOverview& shelf, const shelf::VolumeFacts& volume) {
    report::VolumeLabel label;
    label.volume = volume.identity;
    if (volume.retired) label.retired = utc_date(*volume.retired);
    const std::string& id = volume.identity.id;
    for (const shelf::BagFacts& bag : shelf.facts.bags)
        for (const shelf::CopyFacts& copy : bag.copies)
            if (copy.volume == id && copy.is_there())
                label.jobs.push_back({bag.name, copy.seal, copy.state});
    std::ranges::sort(label.jobs, {}, &report::VolumeLabel::Job::bag);
    if (!volume.retired) label.next_audit = next_audit(shelf, id);
    return label;
}

}  // namespace

report::ShelfLabelResult shelf_label(const Context& context,
                                     const std::vector<std::string>& which) {
    auto result = begun<report::ShelfLabelResult>(context, "shelf label");
    const report::ShelfOverview shelf = shelf_overview(context);
    result.today = shelf.today;
    for (const std::string& name : which) {
        const shelf::VolumeFacts& volume = volume_named(context, shelf.facts, name);
        const auto same = [&](const report::VolumeLabel& label) {
            return label.volume.id == volume.identity.id;
        };
        if (std::ranges::none_of(result.labels, same))
            result.labels.push_back(label_of(shelf, volume));
    }
    result.finished = context.files.now();
    return result;
}

}  // namespace glassine::journeys

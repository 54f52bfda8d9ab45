#include "glassine/journeys/shelf_dates.h"

#include "glassine/journeys/shelf.h"
#include "glassine/shelf/register.h"
#include "glassine/shelf/search.h"
#include "glassine/shelf/standing.h"
#include "journeys/shelf_records.h"

#include <algorithm>
#include <set>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace glassine::journeys {
namespace {

/// The one job that answers: by its name or number, else by words that only it explains.
std::string job_named(shelf::Register& books, const shelf::Facts& facts, const std::string& which) {
    std::set<std::string> names;
    for (const shelf::BagFacts& bag : facts.bags)
        if (bag.name == which || (!bag.number.empty() && bag.number == which))
            names.insert(bag.name);
    if (names.empty())
        for (const shelf::SearchHit& hit : shelf::find_bags(books, which))
            names.insert(hit.bag.name);
    if (names.size() == 1) return *names.begin();
    throw Error(
        Cause::not_found, "find the job", which,
        names.empty() ? std::string("no job on the shelf answers to it")
                      : fmt::format("more than one job answers to it: {}", fmt::join(names, ", ")),
        names.empty() ? "`glassine shelf list` shows all jobs" : "name it by its bag's name");
}

shelf::Event assignment(const Context& context, const std::string& bag,
                        const ShelfDatesRequest& request) {
    std::string says;
    const auto add = [&](std::string_view words, const std::optional<Date>& day) {
        if (day) says += fmt::format("{}{} {}", says.empty() ? "" : ", ", words, iso_date(*day));
    };
    add("promised to the client until", request.promised_until);
    add("to be kept until", request.keep_until);
    shelf::Event event = shelf::new_event(shelf::event_type::policy_assignment, context.files.now(),
                                          shelf::Outcome::success, says);
    event.with_object(shelf::object_type::bag, bag);
    if (request.promised_until)
        event.with_figure(shelf::figure::promised_until, iso_date(*request.promised_until));
    if (request.keep_until)
        event.with_figure(shelf::figure::keep_until, iso_date(*request.keep_until));
    if (!context.person.empty()) event.with_agent("person", context.person, "implementer");
    return event;
}

void check(const ShelfDatesRequest& request, const shelf::BagFacts& bag) {
    if (!request.promised_until && !request.keep_until)
        throw Error(Cause::usage, "give the job its dates", bag.name, "no date is named",
                    "name --promised, --keep-until or both");
    if (!bag.shoot_date) return;
    for (const auto& day : {request.promised_until, request.keep_until})
        if (day && *day < *bag.shoot_date)
            throw Error(Cause::usage, "give the job its dates", bag.name,
                        fmt::format("{} comes before the shoot on {}", iso_date(*day),
                                    iso_date(*bag.shoot_date)),
                        "name the day until which the pictures are kept");
}

const shelf::BagFacts& bag_of(const shelf::Facts& facts, const std::string& name) {
    return *std::ranges::find(facts.bags, name, &shelf::BagFacts::name);
}

}  // namespace

report::ShelfDatesResult shelf_dates(const Context& context, const ShelfDatesRequest& request) {
    report::ShelfDatesResult result;
    result.command = "shelf dates";
    result.started = context.files.now();
    shelf::Register books(context.files, context.register_file);
    const shelf::Facts before = books.facts();
    result.bag = job_named(books, before, request.job);
    check(request, bag_of(before, result.bag));
    const shelf::Event event = assignment(context, result.bag, request);
    ShelfRecords records(context);
    records.record(event);
    // Into every log at hand, so that a register rebuilt from the drives knows it too.
    for (const shelf::FoundVolume& volume : records.connected_volumes()) {
        records.record(event, &volume);
        result.volumes.push_back(volume.identity.label);
    }
    result.findings = records.take_findings();
    if (result.volumes.empty())
        result.findings.push_back(found(
            FindingKind::not_recorded, result.bag,
            "no volume is connected: the dates stand in the register only, and one rebuilt from "
            "the drives would not know them; say it again when a drive is connected"));
    const shelf::Facts after = books.facts();
    const auto standing = shelf::standing_of(
        after, bag_of(after, result.bag), shelf_policy(context.studio), utc_date(result.started));
    result.promised_until = standing.promised_until;
    result.keep_until = standing.keep_until;
    result.finished = context.files.now();
    return result;
}

}  // namespace glassine::journeys

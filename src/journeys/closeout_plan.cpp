#include "journeys/closeout_plan.h"

#include "glassine/base/text.h"
#include "glassine/job/name.h"
#include "journeys/job_reading.h"
#include "journeys/paths.h"
#include "journeys/places.h"
#include "journeys/recovery_making.h"

#include <algorithm>
#include <utility>

namespace glassine::journeys {
namespace {

/// A copy is a folder (nothing) or an archive.
using Form = std::optional<bagit::ArchiveForm>;

std::vector<Form> forms_of(const CloseoutRequest& request) {
    if (!request.serialize) return {std::nullopt};
    if (request.keep_folder) return {std::nullopt, request.serialize};
    return {request.serialize};
}

std::string file_name(const std::string& bag_name, const Form& form) {
    return form ? bag_name + std::string(bagit::archive_ending(*form)) : bag_name;
}

std::unique_ptr<flow::Destination> destination_for(const Context& context, const io::Path& folder,
                                                   const std::string& bag_name, const Form& form) {
    if (form) return bagit::archive_destination(context.files, folder, bag_name, *form);
    return bag_destination(context, folder, bag_name);
}

/// What the photo index takes for each frame, generously: a thumbnail and its line.
constexpr std::uint64_t index_bytes_a_frame = 48u << 10;

void check_place(const io::Path& given, const io::Path& place, const io::Path& job) {
    if (lies_within(place, job))
        throw Error(Cause::usage, "write to the destination", given.string(),
                    "it lies inside the job itself", "name a folder on another drive");
    if (lies_within(job, place))
        throw Error(Cause::usage, "write to the destination", given.string(),
                    "the job itself lies inside it",
                    "name a folder on another drive, or one beside the job");
}

flow::Destination::Need need_of(const CloseoutRequest& request, const CloseoutPlan& plan) {
    flow::Destination::Need need;
    need.bytes = plan.look.payload_bytes + plan.items.size() * index_bytes_a_frame;
    need.bytes += RecoveryMaking::expected_bytes(request.recovery_percent, plan.look.payload_bytes);
    need.files = plan.look.payload_files + plan.items.size();
    need.largest_file = plan.look.largest_file;
    for (const flow::Item& item : plan.items)
        need.longest_name = std::max<std::uint64_t>(need.longest_name, item.name.size());
    return need;
}

Error sealed_everywhere(const std::vector<Place>& places) {
    const auto lacking = std::ranges::find_if(
        places, [](const Place& place) { return place.sent_from.has_value(); });
    if (lacking == places.end())
        return {Cause::exists, "seal the bag", places.front().path,
                "it is sealed already at every destination named",
                "`glassine audit` proves the copies; for one more copy name one more drive"};
    return {Cause::exists, "seal the bag", places[*lacking->sent_from].path,
            "it is sealed already and only missing in the store",
            "`glassine migrate` of its folder sends the archive file there"};
}

/// Finds for each archive in a store the one on a drive that it is sent from.
void plan_sending(const Context& context, const flow::Destination::Need& need,
                  std::vector<Place>& places) {
    for (Place& place : places) {
        if (!place.sent_from) continue;
        const io::Path target(place.path);
        const auto sealed = std::ranges::find_if(places, [&](const Place& other) {
            return !is_in_store(other.path) && io::Path(other.path).filename() == target.filename();
        });
        if (sealed == places.end())
            throw Error(Cause::usage, "write to the destination", place.destination,
                        "an archive file is made on a drive and sent to the store from there",
                        "name a drive with --to as well, or leave out --serialize: the store then "
                        "takes the bag's files one by one");
        place.sent_from = static_cast<std::size_t>(sealed - places.begin());
        flow::Destination::Need file = need;
        file.largest_file = need.bytes;
        file.files = 1;
        file.longest_name = place.path.size();
        single_file_destination(context, target.parent_path(), target.filename().string())
            ->check(file);
    }
}

}  // namespace

CloseoutPlan plan_closeout(const Context& context, const CloseoutRequest& request) {
    CloseoutPlan plan;
    plan.bag_name = job::job_name(request.date, request.clients, request.about);
    plan.look = look_at_job(context, request.job, request.sections);
    plan.items = items_for(plan.look.layout.files);
    return plan;
}

std::vector<Place> plan_copies(const Context& context, const CloseoutRequest& request,
                               const CloseoutPlan& plan, Copies& copies, StandingCopies& standing) {
    const io::Path job = context.files.resolve(request.job);
    std::vector<std::string> payload;
    for (const flow::Item& item : plan.items)
        if (!item.name.empty()) payload.push_back(item.name);
    std::vector<io::Path> folders;
    std::vector<Place> places;
    for (const std::string& given : request.destinations) {
        const io::Path folder = writable_folder(context, given, "write to the destination");
        check_place(given, folder, job);
        if (std::ranges::find(folders, folder) != folders.end())
            throw Error(Cause::usage, "write to the destination", given, "it is named twice",
                        "name two different drives: two copies on one drive are one copy");
        folders.push_back(folder);
        for (const Form& form : forms_of(request)) {
            const std::string name = file_name(plan.bag_name, form);
            const bool sealed = stands(context, folder / name);
            places.push_back({given,
                              (io::Path(given) / name).string(),
                              sealed,
                              sealed ? standing.size() : copies.size(),
                              {}});
            if (sealed)
                standing.add(folder / name, payload);
            else if (form && is_in_store(folder))
                places.back().sent_from = 0;
            else
                copies.add(destination_for(context, folder, plan.bag_name, form),
                           volume_number(context, folder));
        }
    }
    const flow::Destination::Need need = need_of(request, plan);
    plan_sending(context, need, places);
    if (!request.dry_run) standing.clear_leftovers();
    if (copies.size() == 0 && !standing.empty()) throw sealed_everywhere(places);
    copies.check(need);
    return places;
}

}  // namespace glassine::journeys

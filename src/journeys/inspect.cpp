#include "glassine/bagit/archive.h"
#include "glassine/base/text.h"
#include "glassine/job/layout.h"
#include "glassine/job/section.h"
#include "glassine/journeys/audit.h"
#include "journeys/audit_reading.h"
#include "journeys/bag_reading.h"

#include <string>
#include <vector>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

std::vector<report::SectionCount> sections_of(const bagit::Listing& listing) {
    std::vector<report::SectionCount> counts;
    for (const job::Section section : job::all_sections) {
        const std::string folder = std::string(job::payload_folder(section)) + "/";
        report::SectionCount count{section};
        for (bagit::Listing::Index i = 0; i < listing.size(); ++i) {
            const auto entry = listing[i];
            if (entry.type != io::FileType::regular || !entry.name.starts_with(folder)) continue;
            ++count.files;
            count.bytes += entry.size;
            if (job::is_picture(job::role_of(section, job::file_name_of(entry.name))))
                ++count.pictures;
        }
        if (count.files > 0) counts.push_back(count);
    }
    return counts;
}

void inspect_folder(const Context& context, const io::Path& path, report::InspectResult& result) {
    if (!bagit::is_bag_folder(context.files, path))
        throw Error(Cause::not_found, "inspect", path.string(),
                    "it is not a bag: there is neither a bagit.txt nor a manifest in it",
                    "name the folder or archive of one bag; `glassine audit` takes whole drives");
    bagit::LoadOptions load;
    load.digests = false;
    bagit::Bag bag = bagit::load_folder(context.files, path, load, reading_options(context));
    result.sections = sections_of(bag.listing());
    result.bag = bagit::quick_report(std::move(bag), path);
}

void inspect_archive(const Context& context, const io::Path& path, report::InspectResult& result) {
    bagit::LoadOptions load;
    load.digests = false;
    const auto phase = context.monitor.phase(
        fmt::format("Looking into {}", text::for_terminal(path.filename().string())));
    flow::Options flow = reading_options(context);
    flow.observer = phase.get();
    bagit::ArchivedBag archive(context.files, path, load, flow);
    if (!archive.contents().has_bag && !archive.contents().torn)
        throw Error(Cause::not_found, "inspect", path.string(),
                    "there is no bag in this archive: neither a bagit.txt nor a manifest",
                    "name the folder or archive of one bag; `glassine audit` takes whole drives");
    result.sections = sections_of(archive.bag().listing());
    result.bag = bagit::quick_report(archive.take_bag(), path);
    result.bag.name = archive.contents().bag_name;
    result.bag.archive = archive.contents().media_type;
}

}  // namespace

report::InspectResult inspect(const Context& context, const io::Path& path) {
    report::InspectResult result;
    result.command = "inspect";
    result.started = context.files.now();
    const io::Path resolved = context.files.resolve(path);
    if (context.files.info(resolved).type == io::FileType::regular)
        inspect_archive(context, path, result);
    else
        inspect_folder(context, path, result);
    result.ending = ending_of_bag(result.bag);
    result.finished = context.files.now();
    return result;
}

}  // namespace glassine::journeys

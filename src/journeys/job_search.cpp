#include "journeys/job_search.h"

#include "glassine/shelf/search.h"

#include <algorithm>
#include <utility>

namespace glassine::journeys {
namespace {

report::FoundCopy copy_found(const KnownCopy& known) {
    report::FoundCopy copy;
    copy.label = known.volume.label.empty() ? known.volume.id : known.volume.label;
    copy.place = known.volume.place;
    copy.state = known.facts.state;
    copy.proven = known.facts.proven;
    if (known.stands) copy.path = known.stands->string();
    return copy;
}

report::FoundJob job_found(ShelfRecords& records, shelf::SearchHit hit) {
    report::FoundJob job;
    job.bag = hit.bag.name;
    job.clients = std::move(hit.bag.clients);
    job.files = hit.bag.payload_files;
    job.bytes = hit.bag.payload_bytes;
    job.frames = std::move(hit.frames);
    for (const KnownCopy& known : records.copies_of(job.bag)) {
        // Another bag may have the same name.
        const bool its_own = std::ranges::any_of(hit.bag.copies, [&](const shelf::CopyFacts& copy) {
            return copy.volume == known.facts.volume && copy.path == known.facts.path;
        });
        if (its_own && known.facts.state != shelf::CopyState::replaced)
            job.copies.push_back(copy_found(known));
    }
    return job;
}

}  // namespace

std::vector<report::FoundJob> jobs_answering(ShelfRecords& records, const std::string& words) {
    shelf::Register* books = records.register_if_any();
    if (books == nullptr) return {};
    std::vector<shelf::SearchHit> hits = shelf::find_bags(*books, words);
    const auto is_named = [&](const shelf::SearchHit& hit) { return hit.bag.name == words; };
    if (std::ranges::any_of(hits, is_named))
        std::erase_if(hits, [&](const shelf::SearchHit& hit) { return !is_named(hit); });
    std::vector<report::FoundJob> jobs;
    jobs.reserve(hits.size());
    for (shelf::SearchHit& hit : hits)
        jobs.push_back(job_found(records, std::move(hit)));
    return jobs;
}

}  // namespace glassine::journeys

#include "journeys/job_reading.h"

#include "glassine/flow/digest_sink.h"
#include "glassine/job/contact_sheet.h"
#include "glassine/job/proxies.h"
#include "journeys/photo_index.h"

#include <utility>

namespace glassine::journeys {

std::vector<flow::Item> items_for(std::span<const job::JobFile> files) {
    std::vector<flow::Item> items;
    items.reserve(files.size());
    for (const job::JobFile& file : files) {
        flow::Item item;
        item.id = items.size();
        item.path = file.path;
        item.name = file.name;
        item.size = file.size;
        item.modified = file.modified;
        item.check_unchanged = true;
        items.push_back(std::move(item));
    }
    return items;
}

JobReading::JobReading(const Context& context, const job::Layout& layout, Makings makings)
    : context_(context),
      layout_(layout),
      makings_(std::move(makings)),
      observed_(layout.files.size()) {
    for (job::ProxyToMake& proxy : job::proxies_to_make(layout.files))
        proxies_[proxy.raw] = std::move(proxy.name);
}

flow::Result JobReading::read(std::span<const flow::Item> items,
                              std::span<flow::Sink* const> further, flow::Observer* observer) {
    flow::DigestSink digests({digest::Algorithm::sha512},
                             [&](const flow::Item& item, const std::vector<digest::Value>& values) {
                                 observed_[item.id].sha512 = values.front();
                             });
    photo::PictureSink::Options picture_options;
    picture_options.wishes = [this](const flow::Item& item) { return wishes(item); };
    photo::PictureSink pictures(
        context_.files,
        [this](const flow::Item& item, const flow::Outcome&, photo::Examined&& examined) {
            note_picture(item, std::move(examined));
        },
        std::move(picture_options));
    std::vector<flow::Sink*> sinks(further.begin(), further.end());
    sinks.push_back(&digests);
    sinks.push_back(&pictures);
    flow::Options options;
    options.resources = context_.resources;
    options.stop = context_.stop;
    options.observer = observer;
    options.on_item = [this](const flow::Item& item, const flow::Outcome& outcome) {
        note_outcome(item, outcome);
    };
    flow::Result result = flow::River(context_.files).run(flow::reading_of(items), sinks, options);
    if (!result.cancelled) pictures.complete();
    return result;
}

photo::Wishes JobReading::wishes(const flow::Item& item) const {
    photo::Wishes wishes;
    if (makings_.thumbnail && PhotoIndex::wants_thumbnail(layout_.files[item.id]))
        wishes.thumbnail_edge = job::thumbnail_edge;
    wishes.proxy = proxies_.contains(item.id);
    return wishes;
}

void JobReading::note_picture(const flow::Item& item, photo::Examined&& examined) {
    if (examined.unstable)
        note(found(FindingKind::unstable_source, layout_.files[item.id].shown,
                   "it gave other bytes when it was read a second time; try another card reader, "
                   "cable or port, and test the computer's memory"));
    job::Observed& observed = observed_[item.id];
    observed.picture = std::move(examined.picture);
    observed.proxy_made = !examined.proxy.empty();
    observed.proxy_why = std::move(examined.proxy_why);
    if (makings_.thumbnail && !examined.thumbnail.empty())
        makings_.thumbnail(item.id, examined.thumbnail);
    if (makings_.proxy && observed.proxy_made)
        makings_.proxy(item.id, proxies_.at(item.id), examined.proxy);
}

void JobReading::note_outcome(const flow::Item& item, const flow::Outcome& outcome) {
    using flow::Status;
    if (outcome.status == Status::whole || outcome.status == Status::cancelled) return;
    const std::string& shown = layout_.files[item.id].shown;
    if (outcome.status == Status::changed || outcome.status == Status::vanished) {
        note(found(
            FindingKind::changed_while_reading, shown,
            outcome.status == Status::changed
                ? outcome.why + "; let other programs finish with the job and run the command again"
                : "it vanished while the job was read"));
        return;
    }
    unreadable_ = true;
    Finding finding =
        found(FindingKind::unreadable, shown,
              outcome.why + "; copy it from another card or drive and run the command again");
    if (!outcome.gaps.empty()) {
        finding.offset = outcome.gaps.front().offset;
        finding.length = outcome.gaps.front().length;
    }
    note(std::move(finding));
}

void JobReading::note(Finding finding) {
    const std::lock_guard lock(findings_mutex_);
    findings_.push_back(std::move(finding));
}

}  // namespace glassine::journeys

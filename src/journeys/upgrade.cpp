#include "journeys/upgrade.h"

#include "glassine/bagit/bag_info.h"
#include "glassine/base/text.h"
#include "glassine/base/version.h"
#include "glassine/job/accounting.h"
#include "glassine/shelf/event.h"
#include "journeys/bag_compare.h"
#include "journeys/bag_making.h"
#include "journeys/bag_reading.h"
#include "journeys/copies.h"
#include "journeys/job_reading.h"
#include "journeys/photo_index.h"
#include "journeys/places.h"
#include "journeys/recovery_making.h"
#include "journeys/tag_files.h"
#include "journeys/upgrade_reading.h"

#include <algorithm>
#include <array>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

using report::Fate;

/// Thumbnail, line in the index and tag files, generously.
constexpr std::uint64_t index_bytes_a_file = 48u << 10;

std::string algorithms_of(const bagit::Bag& bag) {
    std::string words;
    for (const auto& matched : bag.manifests())
        if (matched.manifest.name().kind == bagit::ManifestKind::payload)
            words +=
                fmt::format("{}{}", words.empty() ? "" : ", ", matched.manifest.name().algorithm);
    return words;
}

class Upgrading {
  public:
    Upgrading(const Context& context, const CarryRequest& request, unsigned percent)
        : context_(context),
          request_(request),
          percent_(percent),
          name_(request.bag.filename().string()),
          making_(copies_) {}

    report::MigratedBag run() {
        try {
            tree_ = look_at_source(context_, request_, bag_);
            const io::Path standing = request_.folder / name_;
            if (context_.files.find(standing / "previous"))
                prove_upgraded(context_, request_.bag, standing, bag_);
            else if (stands(context_, standing))
                prove_standing(context_, request_.bag, standing, bag_);
            else
                make();
        } catch (const Error& error) {
            copies_.abandon();
            if (error.cause() == Cause::interrupted) throw;
            failed(bag_, error);
        }
        return std::move(bag_);
    }

  private:
    void make() {
        bagit::Verdict verdict(load_bag(context_, request_.bag));
        version_ = verdict.bag().declaration().version;
        algorithms_ = algorithms_of(verdict.bag());
        info_ = verdict.bag().info().elements();
        copies_.add(bag_destination(context_, request_.folder, name_), 0);
        flow::Destination::Need need = tree_.need();
        need.bytes += tree_.files.size() * index_bytes_a_file +
                      RecoveryMaking::expected_bytes(percent_, need.bytes);
        copies_.check(need);
        copies_.prepare(context_.files.now());
        if (copies_[0].failure) throw Error(*copies_[0].failure);
        read_once(verdict);
        const bagit::BagReport report = verdict.finish(false, false);
        bag_.findings = report.findings;
        std::ranges::copy(tree_.findings, std::back_inserter(bag_.findings));
        if (any_at_least(bag_.findings, Severity::damage)) return carry_instead();
        write_tag_files(report);
        publish();
    }

    void stop_when_asked() const {
        if (context_.stop.stop_requested())
            throw Error(Cause::interrupted, "upgrade the bag", bag_.source, "it was interrupted",
                        "nothing stands under its name at the destination; run the command again");
    }

    /// Payload and previous tag files, each once: proven by the old manifests, hashed and written
    /// anew, looked at for the index, taken into the recovery data.
    void read_once(bagit::Verdict& verdict) {
        const auto phase =
            context_.monitor.phase(fmt::format("Upgrading {}", text::for_terminal(name_)));
        OldManifests old(verdict);
        layout_ = payload_as_job(tree_, context_.studio.adopt);
        index_ = std::make_unique<PhotoIndex>(layout_.files, making_);
        JobReading::Makings makings;
        makings.thumbnail = [this](std::size_t file, const std::string& jpeg) {
            index_->add_thumbnail(file, jpeg);
        };
        reading_ = std::make_unique<JobReading>(context_, layout_, std::move(makings));
        const std::vector<flow::Item> items = items_for(layout_.files);
        plan_recovery(items);
        std::vector<flow::Sink*> sinks = copies_.sinks();
        sinks.push_back(&old);
        if (recovery_) sinks.push_back(&recovery_->sink());
        read_in_sets(recovery_.get(), items, [&](std::span<const flow::Item> set) {
            note(reading_->read(set, sinks, phase.get()));
            stop_when_asked();
            return true;
        });
        keep_previous(old);
    }

    void plan_recovery(const std::vector<flow::Item>& items) {
        if (percent_ == 0) return;
        std::vector<recovery::FileSize> payload;
        payload.reserve(items.size());
        for (const flow::Item& item : items)
            payload.push_back({item.name, item.size});
        recovery_ =
            std::make_unique<RecoveryMaking>(percent_, std::move(payload), copies_, making_);
    }

    void note(const flow::Result& result) {
        copies_.note_failures(result.sink_failures);
        for (const flow::SinkFailure& failure : result.sink_failures)
            if (recovery_ && failure.sink == &recovery_->sink()) throw Error(failure.error);
        if (copies_[0].failure) throw Error(*copies_[0].failure);
    }

    void keep_previous(OldManifests& old) {
        const std::vector<flow::Item> items = previous_tag_files(tree_);
        flow::DigestSink digests(
            {digest::Algorithm::sha512},
            [this](const flow::Item& item, const std::vector<digest::Value>& values) {
                making_.tag_written(item.name, values.front());
            });
        std::vector<flow::Sink*> sinks = copies_.sinks();
        sinks.push_back(&old);
        sinks.push_back(&digests);
        note(flow::River(context_.files)
                 .run(flow::reading_of(items), sinks, reading_options(context_)));
        stop_when_asked();
    }

    /// New manifests would call the damage right.
    void carry_instead() {
        copies_.abandon();
        bag_ = carry(context_, request_);
        bag_.findings.push_back(
            found(FindingKind::not_upgraded, "",
                  report::arrived(bag_.fate)
                      ? "it was carried and not upgraded, because it is damaged at the source; the "
                        "copy is whole and can be upgraded from where it stands now"
                      : "it was not upgraded, because it is damaged"));
        sort_findings(bag_.findings);
    }

    void write_tag_files(const bagit::BagReport& report) {
        for (std::size_t i = 0; i < layout_.files.size(); ++i)
            making_.payload_written(layout_.files[i].name, reading_->observed()[i].sha512);
        const job::Accounting accounting = job::account(layout_.files, reading_->observed(),
                                                        {shoot_date(), context_.studio.limits});
        index_->write(sheet_head(), accounting, reading_->observed());
        making_.add_tag("bag-info.txt", bagit::bag_info_text(new_info(report)));
        making_.add_tag("HOW-TO-VERIFY.txt", how_to_verify(name_, report.files));
        making_.add_tag("events.jsonl", shelf::to_json_lines(std::array{event(report)}));
        making_.write_payload_manifest();
        if (recovery_) recovery_->finish();
        making_.close();
    }

    std::string old_value(std::string_view label) const {
        for (const bagit::Element& element : info_)
            if (text::equal_ignoring_ascii_case(element.label, label))
                return bagit::unfolded(element.value);
        return "";
    }

    Date shoot_date() const {
        return parse_date(old_value("Shoot-Date")).value_or(utc_date(oldest()));
    }

    /// The oldest payload file: nearest to the shoot of what is known.
    Timestamp oldest() const {
        Timestamp oldest = context_.files.now();
        for (const job::JobFile& file : layout_.files)
            oldest = std::min(oldest, file.modified);
        return oldest;
    }

    job::SheetHead sheet_head() const {
        job::SheetHead head;
        head.studio = old_value("Source-Organization");
        if (const std::string client = old_value("Client-Name"); !client.empty())
            head.clients = {client};
        head.about = old_value("External-Description");
        head.date = old_value("Shoot-Date");
        head.bag_name = name_;
        return head;
    }

    /// What the old bag said of itself, with the figures that are new.
    std::vector<bagit::Element> new_info(const bagit::BagReport& report) const {
        constexpr std::array<std::string_view, 4> renewed{"Bagging-Date", "Bag-Size",
                                                          "Payload-Oxum", "Sealed-With"};
        std::vector<bagit::Element> elements;
        for (const bagit::Element& element : info_)
            if (std::ranges::none_of(renewed, [&](std::string_view label) {
                    return text::equal_ignoring_ascii_case(label, element.label);
                }))
                elements.push_back({element.label, bagit::unfolded(element.value)});
        elements.push_back({"Bagging-Date", iso_date(local_date(context_.files.now()))});
        elements.push_back({"Bag-Size", bagit::bag_size_text(report.bytes)});
        elements.push_back({"Payload-Oxum", bagit::oxum_text({report.bytes, report.files})});
        elements.push_back({"Sealed-With", fmt::format("Glassine {}", version())});
        return elements;
    }

    shelf::Event event(const bagit::BagReport& report) const {
        shelf::Event event = shelf::new_event(
            shelf::event_type::metadata_modification, context_.files.now(), shelf::Outcome::success,
            fmt::format("upgraded from BagIt {} with {} manifests to BagIt 1.0 with SHA-512; {} "
                        "proven by the old manifests; the previous tag files are in previous/",
                        version_.empty() ? "of no version" : version_, algorithms_,
                        text::counted(report.files, "payload file")));
        event.with_object(shelf::object_type::bag, name_, "outcome");
        if (!context_.person.empty()) event.with_agent("person", context_.person, "implementer");
        return event;
    }

    void publish() {
        std::vector<std::string> differing;
        copies_.seal(context_, making_.expected(), differing);
        const Copies::Made& made = copies_[0];
        if (made.failure) throw Error(*made.failure);
        bag_.path = made.destination->published_path();
        bag_.how = made.how;
        bag_.fate = Fate::upgraded;
        std::erase_if(bag_.findings, [](const Finding& f) {
            return f.kind == FindingKind::algorithm_weak || f.kind == FindingKind::path_form;
        });
    }

    const Context& context_;
    const CarryRequest& request_;
    unsigned percent_;
    std::string name_;
    report::MigratedBag bag_;
    SourceTree tree_;
    Copies copies_;
    BagMaking making_;
    job::Layout layout_;
    std::unique_ptr<PhotoIndex> index_;
    std::unique_ptr<JobReading> reading_;
    std::unique_ptr<RecoveryMaking> recovery_;
    std::string version_;
    std::string algorithms_;
    std::vector<bagit::Element> info_;
};

}  // namespace

bool is_up_to_date(const Context& context, const io::Path& path) {
    bagit::LoadOptions options;
    options.digests = false;
    const bagit::Bag bag = load_bag(context, path, options);
    const auto has = [&](bagit::ManifestKind kind) {
        return std::ranges::any_of(bag.manifests(), [&](const auto& matched) {
            return matched.manifest.name().kind == kind &&
                   matched.manifest.name().computable == digest::Algorithm::sha512;
        });
    };
    return bag.declaration().version == "1.0" && has(bagit::ManifestKind::payload) &&
           has(bagit::ManifestKind::tag);
}

report::MigratedBag upgrade(const Context& context, const CarryRequest& request, unsigned percent) {
    return Upgrading(context, request, percent).run();
}

}  // namespace glassine::journeys

#include "glassine/journeys/closeout.h"

#include "glassine/base/text.h"
#include "journeys/bag_making.h"
#include "journeys/closeout_plan.h"
#include "journeys/copies.h"
#include "journeys/job_reading.h"
#include "journeys/mend_proofs.h"
#include "journeys/photo_index.h"
#include "journeys/recovery_making.h"
#include "journeys/sent_archive.h"
#include "journeys/shelf_records.h"
#include "journeys/tag_files.h"

#include <algorithm>
#include <iterator>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

using report::Ending;

/// Kinds that no one can take on: what cannot be read cannot be sealed.
constexpr std::array never_accepted{FindingKind::job_empty, FindingKind::unreadable,
                                    FindingKind::changed_while_reading,
                                    FindingKind::unstable_source};

/// In the bag: what may be deleted of the job's rejects once enough copies are proven.
constexpr std::string_view rejected_raws_file = "photo-index/rejected-raws.txt";

class Closeout {
  public:
    Closeout(const Context& context, const CloseoutRequest& request)
        : context_(context), request_(request), standing_(context), bag_(copies_) {}

    report::CloseoutResult run() {
        result_.command = "closeout";
        result_.dry_run = request_.dry_run;
        result_.started = context_.files.now();
        plan_ = plan_closeout(context_, request_);
        places_ = plan_copies(context_, request_, plan_, copies_, standing_);
        describe_plan();
        if (ready() && !request_.dry_run) make();
        conclude();
        return std::move(result_);
    }

  private:
    /// Whatever happens, nothing half-made is left behind.
    void make() try {
        copies_.prepare(result_.started);
        plan_recovery();
        if (copies_.any_alive()) read_once();
        if (ready() && copies_.any_alive() && !stopped()) seal();
        copies_.abandon();
    } catch (...) {
        copies_.abandon();
        throw;
    }

    /// A copy that is to be like one that stands gets that one's recovery data.
    void plan_recovery() {
        if (request_.recovery_percent == 0 || !standing_.empty()) return;
        std::vector<recovery::FileSize> payload;
        for (const flow::Item& item : plan_.items)
            if (!item.name.empty()) payload.push_back({item.name, item.size});
        recovery_ = std::make_unique<RecoveryMaking>(request_.recovery_percent, std::move(payload),
                                                     copies_, bag_);
    }

    const std::vector<job::JobFile>& files() const { return plan_.look.layout.files; }
    bool stopped() const { return context_.stop.stop_requested(); }

    bool accepted(const Finding& finding) const {
        return request_.accept.contains(finding.kind) &&
               std::ranges::find(never_accepted, finding.kind) == never_accepted.end();
    }

    /// Nothing found that stops a close-out.
    bool ready() const {
        return std::ranges::none_of(result_.findings, [&](const Finding& f) {
            return (f.severity == Severity::blocking || f.severity == Severity::damage) &&
                   !accepted(f);
        });
    }

    void describe_plan() {
        result_.bag_name = plan_.bag_name;
        result_.files = plan_.look.payload_files;
        result_.bytes = plan_.look.payload_bytes;
        result_.sections = plan_.look.sections;
        result_.findings = plan_.look.layout.findings;
        std::erase_if(result_.findings, [&](const Finding& f) {
            return f.kind == FindingKind::unsorted_file && request_.set_aside.contains(f.path);
        });
    }

    /// The single read: every source file once, into digests, pictures, recovery data and every
    /// copy at the same time; then the accounting for every frame.
    void read_once() {
        index_ = std::make_unique<PhotoIndex>(files(), bag_);
        JobReading::Makings makings;
        makings.proxy = [this](std::size_t, const std::string& name, const std::string& jpeg) {
            add_proxy(name, jpeg);
        };
        // A copy that is to be like one that stands gets that one's index.
        if (standing_.empty())
            makings.thumbnail = [this](std::size_t file, const std::string& jpeg) {
                index_->add_thumbnail(file, jpeg);
            };
        JobReading reading(context_, plan_.look.layout, std::move(makings));
        std::vector<flow::Sink*> sinks = copies_.sinks();
        if (recovery_) sinks.push_back(&recovery_->sink());
        std::ranges::copy(request_.witness.sinks, std::back_inserter(sinks));
        const auto phase = context_.monitor.phase(
            fmt::format("Reading and copying {}", text::counted(plan_.items.size(), "file")));
        bool cancelled = false;
        read_in_sets(recovery_.get(), plan_.items, [&](std::span<const flow::Item> set) {
            const flow::Result read = reading.read(set, sinks, phase.get());
            note_failures(read.sink_failures);
            cancelled = read.cancelled;
            return !cancelled;
        });
        if (cancelled) return;
        unreadable_ = reading.unreadable();
        std::ranges::copy(reading.findings(), std::back_inserter(result_.findings));
        if (request_.witness.verdict)
            std::ranges::copy(request_.witness.verdict(), std::back_inserter(result_.findings));
        account(reading);
    }

    void note_failures(std::span<const flow::SinkFailure> failures) {
        copies_.note_failures(failures);
        for (const flow::SinkFailure& failure : failures)
            if (recovery_ && failure.sink == &recovery_->sink() && !recovery_failure_)
                recovery_failure_ = failure.error;
    }

    void account(const JobReading& reading) {
        accounting_ =
            job::account(files(), reading.observed(), {request_.date, context_.studio.limits});
        std::ranges::copy(accounting_.findings, std::back_inserter(result_.findings));
        for (std::size_t i = 0; i < files().size(); ++i)
            if (files()[i].is_payload())
                bag_.payload_written(files()[i].name, reading.observed()[i].sha512);
        result_.summary = accounting_.summary;
        if (ready() && standing_.empty())
            index_->write(sheet_head(), accounting_, reading.observed());
        list_rejected_raws(reading);
    }

    job::SheetHead sheet_head() const {
        const job::Studio& studio = context_.studio;
        return {studio.name,    request_.clients, request_.about, iso_date(request_.date),
                plan_.bag_name, studio.rights};
    }

    /// A proxy made on the way is payload like any other file.
    void add_proxy(const std::string& name, const std::string& jpeg) {
        bag_.add_payload(name, jpeg);
        ++result_.files;
        result_.bytes += jpeg.size();
        const auto rejects = std::ranges::find(result_.sections, job::Section::rejects,
                                               &report::SectionCount::section);
        report::SectionCount& count =
            rejects != result_.sections.end()
                ? *rejects
                : result_.sections.emplace_back(report::SectionCount{job::Section::rejects});
        ++count.files;
        count.bytes += jpeg.size();
        ++count.pictures;
    }

    /// Rejected raws that something sealed stands for: they may go, and only a person lets them go.
    /// The list is a checksum list of paths in the job folder, so that what is deleted can be
    /// proven to be what was rejected.
    void list_rejected_raws(const JobReading& reading) {
        std::vector<bagit::ManifestLine> lines;
        for (const job::Frame& frame : accounting_.frames) {
            if (frame.state != job::FrameState::rejected) continue;
            for (const std::size_t file : frame.rejected) {
                result_.rejected_raws.push_back(files()[file].shown);
                lines.push_back({files()[file].shown, reading.observed()[file].sha512});
            }
        }
        std::ranges::sort(result_.rejected_raws);
        if (!lines.empty() && ready() && standing_.empty())
            bag_.add_tag(std::string(rejected_raws_file), bagit::manifest_text(std::move(lines)));
    }

    void seal() {
        // Recovery data that missed a byte would be worse than none.
        if (recovery_failure_) throw Error(*recovery_failure_);
        if (standing_.empty()) {
            write_tag_files();
        } else {
            standing_.compare(bag_.payload_manifest());
            result_.seal = standing_.copy_tags(copies_, bag_);
        }
        std::vector<std::string> differing;
        copies_.seal(context_, bag_.expected(), differing);
        suspect_sources(differing);
    }

    /// What read back differently may have been read wrongly in the first place: the sources of
    /// these files are read once more.
    void suspect_sources(const std::vector<std::string>& differing) {
        for (const std::string& name : differing) {
            const auto item = std::ranges::find(plan_.items, name, &flow::Item::name);
            if (item == plan_.items.end()) continue;
            const auto again =
                digest_of_file(context_.files, item->path, digest::Algorithm::sha512);
            if (again == bag_.expected().at(name)) continue;
            result_.findings.push_back(found(FindingKind::unstable_source, files()[item->id].shown,
                                             "it reads differently each time; try another card "
                                             "reader, cable or port, test the computer's memory, "
                                             "and run the command again"));
        }
    }

    void write_tag_files() {
        JobFacts facts{result_.sections, result_.bytes, result_.files,
                       local_date(context_.files.now())};
        bag_.add_tag("bag-info.txt",
                     bagit::bag_info_text(bag_info_elements(context_.studio, request_, facts)));
        bag_.add_tag("HOW-TO-VERIFY.txt", how_to_verify(plan_.bag_name, result_.files));
        bag_.add_tag("events.jsonl", shelf::to_json_lines(events()));
        for (const auto& [name, content] : request_.evidence)
            bag_.add_tag(name, content);
        bag_.write_payload_manifest();
        if (recovery_) recovery_->finish();
        result_.seal = bag_.close();
    }

    /// What was done up to sealing (PREMIS event types).
    std::vector<shelf::Event> events() {
        using namespace shelf;
        const Timestamp now = context_.files.now();
        std::vector<Event> events;
        events.push_back(
            new_event(event_type::message_digest_calculation, now, Outcome::success,
                      fmt::format("SHA-512 of {}", text::counted(files().size(), "file"))));
        note_acceptance(events, now);
        events.push_back(
            new_event(event_type::information_package_creation, now, Outcome::success,
                      fmt::format("BagIt 1.0 bag of {}", text::counted(result_.files, "file"))));
        for (Event& event : events) {
            event.with_object(object_type::bag, plan_.bag_name, "outcome");
            if (!context_.person.empty())
                event.with_agent("person", context_.person, "implementer");
        }
        return events;
    }

    /// What was accepted although it blocks, by whom and when.
    void note_acceptance(std::vector<shelf::Event>& events, Timestamp now) {
        shelf::Event event = shelf::new_event(
            shelf::event_type::validation, now, shelf::Outcome::partial,
            "sealed although these findings block; each kind was accepted by name");
        std::set<FindingKind> kinds;
        for (const Finding& f : result_.findings) {
            if ((f.severity != Severity::blocking && f.severity != Severity::damage) ||
                !accepted(f))
                continue;
            event.outcome_detail.push_back(
                fmt::format("{}: {}: {}", word(f.kind), f.path, f.detail));
            kinds.insert(f.kind);
        }
        for (const FindingKind kind : kinds)
            result_.accepted.emplace_back(word(kind));
        if (!kinds.empty()) events.push_back(std::move(event));
    }

    report::Copy sent_to(const Place& place) const {
        report::Copy copy;
        copy.destination = place.destination;
        if (request_.dry_run) copy.planned = place.path;
        if (request_.dry_run || !ready() || stopped()) return copy;
        const report::Copy& sealed = result_.copies.at(*place.sent_from);
        if (sealed.verified) return send_archive(context_, sealed.path, place);
        copy.failure = fmt::format("it would be sent from the copy at {}, and there is none",
                                   sealed.destination);
        return copy;
    }

    report::Copy copy_at(const Place& place) const {
        report::Copy copy;
        copy.destination = place.destination;
        if (place.standing) {
            copy.path = place.path;
            if (!ready() || request_.dry_run || stopped()) return copy;
            return standing_.prove(place.number, place.destination);
        }
        if (place.sent_from) return sent_to(place);
        if (request_.dry_run) copy.planned = place.path;
        const Copies::Made& made = copies_[place.number];
        if (made.published) {
            copy.path = made.destination->published_path();
            copy.verified = true;
            copy.how = made.how;
        } else if (made.failure) {
            copy.failure = made.failure->sentence();
        }
        return copy;
    }

    void conclude() {
        result_.copies.resize(places_.size());
        for (const bool sent : {false, true})  // from a copy that is sealed by then
            for (std::size_t i = 0; i < places_.size(); ++i)
                if (places_[i].sent_from.has_value() == sent)
                    result_.copies[i] = copy_at(places_[i]);
        if (std::ranges::none_of(result_.copies, &report::Copy::verified)) {
            result_.seal.clear();
            result_.rejected_raws.clear();
        }
        judge_ending();
        record();
        sort_findings(result_.findings);
        result_.finished = context_.files.now();
    }

    /// What was sealed is written into the shelf's books. Whatever becomes of those, the copies
    /// are sealed and proven; the findings say what is not recorded.
    void record() {
        ShelfRecords records(context_);
        for (std::size_t i = 0; i < places_.size(); ++i) {
            const report::Copy& copy = result_.copies[i];
            if (!copy.verified) continue;
            if (!places_[i].standing) {
                records.record_copy(copy.path, shelf::event_type::ingestion,
                                    fmt::format("closed out and sealed: {}; {}",
                                                text::counted(result_.files, "file"), copy.how),
                                    copy.how);
                continue;
            }
            bagit::BagReport proven;
            proven.path = copy.path;
            proven.complete = true;
            proven.valid = true;
            records.record_check(proven, false);
        }
        std::ranges::move(records.take_findings(), std::back_inserter(result_.findings));
    }

    void judge_ending() {
        if (!ready()) result_.ending = Ending::attention;
        if (unreadable_ || std::ranges::any_of(result_.copies, [](const report::Copy& c) {
                return !c.failure.empty();
            }))
            result_.ending = report::worse(result_.ending, Ending::failed);
        if (stopped() && !std::ranges::all_of(result_.copies, &report::Copy::verified))
            result_.ending = Ending::interrupted;
    }

    const Context& context_;
    const CloseoutRequest& request_;
    report::CloseoutResult result_;
    CloseoutPlan plan_;
    Copies copies_;
    StandingCopies standing_;
    std::vector<Place> places_;  ///< one for each copy
    BagMaking bag_;
    std::unique_ptr<PhotoIndex> index_;
    job::Accounting accounting_;
    std::unique_ptr<RecoveryMaking> recovery_;
    std::optional<Error> recovery_failure_;
    bool unreadable_ = false;
};

}  // namespace

report::CloseoutResult closeout(const Context& context, const CloseoutRequest& request) {
    return Closeout(context, request).run();
}

}  // namespace glassine::journeys

#include "glassine/journeys/restore.h"

#include "glassine/base/text.h"
#include "glassine/flow/handout.h"
#include "journeys/bag_source.h"
#include "journeys/gallery.h"
#include "journeys/job_search.h"
#include "journeys/other_copies.h"
#include "journeys/restore_plan.h"
#include "journeys/right_bytes.h"
#include "journeys/shelf_records.h"
#include "journeys/trusted_proofs.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

using report::Ending;

bool is_zip(const std::string& target) {
    return text::ascii_lower(io::Path(target).extension().string()) == ".zip";
}

class Restoring {
  public:
    Restoring(const Context& context, const RestoreRequest& request, report::RestoreResult begun)
        : context_(context),
          request_(request),
          bag_(context, begun.from),
          records_(context),
          result_(std::move(begun)) {}

    report::RestoreResult run() {
        find_other_copies();
        look();
        open_target();
        if (!wanted_.empty())
            hand_out();
        else
            clear_leftovers();
        conclude();
        return std::move(result_);
    }

  private:
    bool stopped() const { return context_.stop.stop_requested(); }

    /// Connected copies that the register knows help where this one is damaged.
    void find_other_copies() {
        for (const io::Path& copy : request_.from)
            others_.push_back(bag_.copies().add(copy));
        OtherCopies known =
            other_copies(records_, bag_.name(), context_.files.resolve(result_.from));
        for (io::Path& folder : bag_.copies().add_usable(known.connected))
            if (std::ranges::find(others_, folder) == others_.end())
                others_.push_back(std::move(folder));
        elsewhere_ = std::move(known.elsewhere);
    }

    /// What is in the bag, by which digests it is proven, and what of it is asked for.
    void look() {
        result_.bag_name = bag_.name();
        trusted_ = trusted_proofs(bag_.context(), bag_.folder(), bag_.bag(), others_);
        add(trusted_.findings);
        RestorePlan plan = plan_restore(request_, bag_, trusted_.proofs);
        add(plan.findings);
        items_ = std::move(plan.items);
        if (request_.gallery)
            head_ = gallery_head(context_.studio, bag_.bag().info(), result_.bag_name);
    }

    void add(const std::vector<Finding>& findings) {
        result_.findings.insert(result_.findings.end(), findings.begin(), findings.end());
    }

    /// Looks at the target, and at what stands there already.
    void open_target() {
        target_ = is_zip(request_.to)
                      ? flow::zip_handout(context_.files, request_.to, request_.split)
                      : flow::folder_handout(context_.files, request_.to);
        flow::Handout::Need need;
        for (const flow::Item& item : items_) {
            if (stands_there(item)) continue;
            need.bytes += item.size;
            ++need.files;
            wanted_.push_back(item);
        }
        target_->check(need);
    }

    bool stands_there(const flow::Item& item) {
        const io::Path there = target_->standing(handed_out_name(item.name));
        if (there.empty()) return false;
        const Proof* proof = trusted_.proofs.find(item.name);
        if (digest_of_file(context_.files, there, proof->algorithm) == proof->digest) {
            ++result_.there_already;
            standing_.push_back(item.name);
            count(item.name, item.size);
        } else {
            target_taken(item.name);
        }
        return true;
    }

    void target_taken(const std::string& name) {
        result_.findings.push_back(found(FindingKind::target_exists, handed_out_name(name),
                                         "something else stands there; it was not replaced"));
    }

    /// Of a run that was cut off at its very end. They harm nobody where that is not possible.
    void clear_leftovers() {
        try {
            if (!standing_.empty()) target_->prepare();
        } catch (const Error&) {
            return target_->abandon();
        }
        target_->abandon();
    }

    /// Whatever happens, nothing half-made is left behind.
    void hand_out() try {
        target_->prepare();
        ProvenFiles proven(*target_, trusted_.proofs, handed_out_name);
        Gallery gallery(bag_.context().files, request_.gallery);
        read_once(proven, gallery);
        if (!stopped()) mend_on_the_way(proven, gallery);
        if (stopped()) return target_->abandon();
        if (request_.gallery) make_gallery(proven, gallery);
        publish(proven);
    } catch (...) {
        target_->abandon();
        throw;
    }

    void read_once(ProvenFiles& proven, Gallery& gallery) {
        const auto phase = context_.monitor.phase(
            fmt::format("Handing out {}", text::counted(wanted_.size(), "file")));
        flow::Options options;
        options.resources = context_.resources;
        options.stop = context_.stop;
        options.observer = phase.get();
        std::vector<flow::Sink*> sinks{&proven};
        for (flow::Sink* sink : gallery.sinks())
            sinks.push_back(sink);
        const flow::Result result = bag_.read(wanted_, sinks, options);
        for (const flow::SinkFailure& failure : result.sink_failures)
            if (failure.sink == &proven) throw Error(failure.error);
    }

    /// What is damaged here comes from elsewhere, or is told.
    void mend_on_the_way(ProvenFiles& proven, Gallery& gallery) {
        std::set<std::string> damaged;
        for (const flow::Item& item : wanted_)
            if (!proven.has(item.name)) damaged.insert(item.name);
        if (damaged.empty()) return;
        note_damage(damaged);
        result_.healed = RightBytes(bag_.context(), bag_.folder(), others_)
                             .bring(damaged, proven, gallery.sinks());
        for (const report::HealedFile& file : result_.healed)
            result_.findings.push_back(
                found(FindingKind::healed, file.path,
                      fmt::format("it is damaged in this copy; what was handed out is whole and "
                                  "came from {}",
                                  file.from)));
        if (!stopped()) tell_lost(damaged, proven);
    }

    /// The copy is not what it was, whatever became of the pictures.
    void note_damage(const std::set<std::string>& damaged) {
        if (!records_.still_there(result_.from)) return;
        std::vector<std::string> notes;
        notes.reserve(damaged.size());
        for (const std::string& name : damaged)
            notes.push_back(name + ": it could not be handed out from this copy");
        records_.record_damage(result_.from, std::move(notes));
    }

    void tell_lost(const std::set<std::string>& damaged, const ProvenFiles& proven) {
        bool lost = false;
        for (const std::string& name : damaged) {
            if (proven.has(name)) continue;
            lost = true;
            result_.findings.push_back(
                found(FindingKind::beyond_repair, name,
                      "it is damaged or lost in this copy and was not handed out; name another "
                      "copy with --from"));
        }
        if (lost) add(copies_to_fetch(elsewhere_));
    }

    void make_gallery(const ProvenFiles& proven, Gallery& gallery) {
        std::vector<std::string> names = standing_;
        for (const flow::Item& item : wanted_)
            if (proven.has(item.name)) names.push_back(item.name);
        for (const report::HealedFile& file : result_.healed)
            if (file.from == from_recovery_data) gallery.forget(file.path);
        gallery.write(head_, names, *target_, context_.files.now());
        result_.gallery = gallery.written();
        add(gallery.findings());
    }

    void publish(const ProvenFiles& proven) {
        const auto phase = context_.monitor.phase("Bringing the files to the medium");
        const flow::Handout::Published published = target_->publish();
        result_.written = published.paths;
        for (const flow::Item& item : wanted_) {
            if (!proven.has(item.name)) continue;
            if (std::ranges::find(published.taken, handed_out_name(item.name)) !=
                published.taken.end()) {
                target_taken(item.name);
                continue;
            }
            ++result_.files;
            result_.bytes += item.size;
            count(item.name, item.size);
        }
        record();
    }

    void count(const std::string& name, std::uint64_t size) {
        for (const job::Section section : job::all_sections) {
            if (!name.starts_with(std::string(job::payload_folder(section)) + "/")) continue;
            auto at = std::ranges::find(result_.sections, section, &report::SectionCount::section);
            if (at == result_.sections.end())
                at = result_.sections.insert(at, report::SectionCount{section});
            ++at->files;
            at->bytes += size;
            if (job::is_picture(job::role_of(section, job::file_name_of(name)))) ++at->pictures;
        }
    }

    /// Pictures that were handed out are an event of the copy that they were read from.
    void record() {
        if (result_.files == 0) return;
        std::string what = fmt::format("handed out {}", text::counted(result_.files, "file"));
        if (!result_.healed.empty())
            what += fmt::format(", of which {} damaged in this copy and came whole from elsewhere",
                                text::counted(result_.healed.size(), "file was", "files were"));
        records_.record_dissemination(result_.from, std::move(what), place_of_target());
    }

    std::string place_of_target() const {
        const io::Path first = result_.written.front();
        return (context_.files.resolve(first.parent_path().empty() ? "." : first.parent_path()) /
                first.filename())
            .string();
    }

    void conclude() {
        add(records_.take_findings());
        if (any_at_least(result_.findings, Severity::blocking)) result_.ending = Ending::attention;
        if (stopped()) result_.ending = Ending::interrupted;
        sort_findings(result_.findings);
        result_.finished = context_.files.now();
    }

    const Context& context_;
    const RestoreRequest& request_;
    BagSource bag_;
    std::vector<io::Path> others_;
    std::vector<std::string> elsewhere_;  ///< volumes with further copies, not connected
    ShelfRecords records_;
    report::RestoreResult result_;
    TrustedProofs trusted_;
    std::vector<flow::Item> items_;   ///< asked for
    std::vector<flow::Item> wanted_;  ///< of these, what does not stand at the target yet
    job::SheetHead head_;
    std::vector<std::string> standing_;  ///< files of the bag that stand at the target already
    std::unique_ptr<flow::Handout> target_;
};

Error not_a_bag(const std::string& what) {
    return {Cause::not_found, "restore", what, "it is not a bag",
            "name the folder or archive of one bag; `glassine audit` lists the bags of a drive"};
}

Error nothing_found(const Context& context, const std::string& what) {
    if (what.find('/') != std::string::npos || context.register_file.empty() ||
        !context.files.find(context.register_file))
        return {Cause::not_found, "restore", what, "there is no such bag",
                "check the path and that the drive is connected; to find a job by words, the "
                "shelf's register has to know it (`glassine shelf scan`)"};
    return {Cause::not_found, "restore", what, "nothing on the shelf answers to these words",
            "fewer or other words may, `glassine shelf find` shows what they lead to; or name the "
            "bag by its path"};
}

/// Looks the job up in the register. True when it is clear which copy is to be read.
bool find_by_words(const Context& context, const RestoreRequest& request,
                   report::RestoreResult& result) {
    ShelfRecords records(context);
    result.words = request.what;
    result.jobs = jobs_answering(records, request.what);
    result.findings = records.take_findings();
    if (result.jobs.empty())
        throw context.files.find(request.what) ? not_a_bag(request.what)
                                               : nothing_found(context, request.what);
    if (result.jobs.size() > 1) {
        result.ending = Ending::attention;
        return false;
    }
    const report::FoundJob& job = result.jobs.front();
    result.bag_name = job.bag;
    if (job.copies.empty() || job.copies.front().path.empty()) {
        result.ending = Ending::failed;
        return false;
    }
    result.from = job.copies.front().path;
    return true;
}

}  // namespace

report::RestoreResult restore(const Context& context, const RestoreRequest& request) {
    report::RestoreResult result;
    result.command = "restore";
    result.started = context.files.now();
    result.from = request.what;
    result.target = request.to;
    result.by_frames = request.frames.has_value();
    const bool stands_there = context.files.find(request.what).has_value();
    if (stands_there && may_hold_bag(context.files, request.what))
        return Restoring(context, request, std::move(result)).run();
    if (stands_there && request.what.find('/') != std::string::npos) throw not_a_bag(request.what);
    result.from.clear();
    if (find_by_words(context, request, result))
        return Restoring(context, request, std::move(result)).run();
    result.finished = context.files.now();
    return result;
}

}  // namespace glassine::journeys

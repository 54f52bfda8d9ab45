#include "journeys/adopt.h"

#include "glassine/bagit/check.h"
#include "glassine/io/files.h"
#include "glassine/job/layout.h"
#include "glassine/job/name.h"
#include "glassine/journeys/closeout.h"
#include "journeys/adopt_look.h"
#include "journeys/bag_reading.h"
#include "journeys/closeout_plan.h"
#include "journeys/job_reading.h"
#include "journeys/mend_proofs.h"
#include "journeys/source_tree.h"

#include <algorithm>
#include <utility>

namespace glassine::journeys {
namespace {

using report::Ending;
using report::Fate;

class Adopting {
  public:
    Adopting(const Context& context, const AdoptRequest& request)
        : context_(context), request_(request) {}

    Adopted run() {
        report::MigratedBag& bag = out_.bag;
        bag.source = request_.folder.string();
        try {
            tree_ = list_tree(context_.files, request_.folder);
            bag.files = tree_.files.size();
            bag.bytes = tree_.need().bytes;
            look_ = look_at_old_job(context_, request_.folder, request_.name, lists_);
            for (const Finding& f : tree_.findings)
                look_.problems.push_back(f);
            if (look_.problems.empty())
                close_out();
            else
                list_everything("it cannot be placed as a whole");
        } catch (const Error& error) {
            if (error.cause() == Cause::interrupted) throw;
            bag.failure = error.sentence();
            list_everything("the folder was not adopted");
        }
        sort_findings(bag.findings);
        return std::move(out_);
    }

  private:
    /// Nothing is left behind unsaid: the reasons, then every file.
    void list_everything(const std::string& why) {
        out_.left = look_.problems;
        if (out_.bag.failure.empty()) out_.bag.failure = why;
        out_.accounted = 0;
        for (const flow::Item& item : tree_.files) {
            if (in_junk(item.name)) {
                out_.junk.push_back(item.name);
                ++out_.accounted;
            } else if (std::ranges::find(out_.left, item.name, &Finding::path) == out_.left.end()) {
                out_.left.push_back(found(FindingKind::unmapped, item.name, why));
            }
        }
    }

    CloseoutRequest closeout_request() {
        CloseoutRequest request;
        request.job = request_.folder;
        request.destinations = {request_.to.string()};
        request.clients = look_.reading.clients;
        request.date = look_.reading.date;
        request.about = look_.reading.about;
        request.job_number = look_.reading.job_number;
        request.accept = request_.accept;
        request.recovery_percent = request_.recovery_percent;
        request.sections = look_.sections;
        request.set_aside = look_.evidence;
        for (const std::string& path : look_.evidence)
            request.evidence["evidence/" + path] =
                io::read_small_file(context_.files, request_.folder / path);
        if (!lists_.empty()) {
            request.witness.sinks = {&lists_};
            request.witness.verdict = [this] { return named_below(lists_.findings()); };
        }
        return request;
    }

    std::vector<Finding> named_below(std::vector<Finding> findings) const {
        for (Finding& f : findings)
            f.path = io::Path(f.path).lexically_relative(request_.folder).generic_string();
        return findings;
    }

    void close_out() {
        const CloseoutRequest request = closeout_request();
        const io::Path standing =
            request_.to / job::job_name(request.date, request.clients, request.about);
        if (context_.files.find(standing)) return prove_standing(request, standing);
        const report::CloseoutResult result = closeout(context_, request);
        if (result.ending == Ending::interrupted)
            throw Error(Cause::interrupted, "adopt the folder", out_.bag.source,
                        "it was interrupted", "run the command again");
        out_.bag.findings = result.findings;
        const report::Copy& copy = result.copies.front();
        if (!copy.verified) {
            out_.bag.failure =
                copy.failure.empty() ? "it was not sealed: see what blocks" : copy.failure;
            return list_everything("the job is not ready to be closed out");
        }
        out_.bag.fate = Fate::adopted;
        out_.bag.path = copy.path;
        out_.bag.how = copy.how;
        account(request);
    }

    /// Every file is in the bag, was a rejected raw, or is junk; anything else is listed.
    void account(const CloseoutRequest& request) {
        const CloseoutPlan plan = plan_closeout(context_, request);
        std::set<std::string> held = look_.evidence;
        for (const job::JobFile& file : plan.look.layout.files) {
            const std::string below =
                io::Path(file.path).lexically_relative(request_.folder).generic_string();
            held.insert(below);
            if (!file.is_payload()) out_.rejected.push_back(below);
        }
        for (const flow::Item& item : tree_.files) {
            if (held.contains(item.name)) {
                ++out_.accounted;
            } else if (is_told_junk(plan, item.name)) {
                out_.junk.push_back(item.name);
                ++out_.accounted;
            } else {
                out_.left.push_back(
                    found(FindingKind::unmapped, item.name, "it did not get into the bag"));
            }
        }
    }

    static bool is_told_junk(const CloseoutPlan& plan, const std::string& name) {
        return in_junk(name) ||
               std::ranges::any_of(plan.look.layout.findings, [&](const Finding& f) {
                   return f.kind == FindingKind::system_junk &&
                          (f.path == name || name.starts_with(f.path + "/"));
               });
    }

    /// A bag of that name stands there, perhaps from an interrupted run: it counts only when it is
    /// whole and holds every file of the folder as it is.
    void prove_standing(const CloseoutRequest& request, const io::Path& standing) {
        clear_leftovers_beside(context_, standing);
        if (!bagit::is_bag_folder(context_.files, standing) ||
            !holds_the_folder(request, standing)) {
            out_.bag.failure = "something else stands under its bag's name there";
            return list_everything("the folder was not adopted");
        }
        const bagit::BagReport report = read_again(context_, standing);
        if (!report.valid.value_or(false)) {
            out_.bag.failure = "the bag that stands there already is damaged; see `glassine audit`";
            return list_everything("the folder was not adopted");
        }
        out_.bag.fate = Fate::already;
        out_.bag.path = standing.string();
        out_.bag.how = "stood there already; read again from the medium and whole";
        account(request);
    }

    bool holds_the_folder(const CloseoutRequest& request, const io::Path& standing) const {
        Proofs proofs;
        proofs.add(load_bag(context_, standing));
        const CloseoutPlan plan = plan_closeout(context_, request);
        return std::ranges::all_of(plan.items, [&](const flow::Item& item) {
            if (item.name.empty()) return true;
            const Proof* proof = proofs.find(item.name);
            return proof != nullptr &&
                   digest_of_file(context_.files, item.path, proof->algorithm) == proof->digest;
        });
    }

    const Context& context_;
    const AdoptRequest& request_;
    Adopted out_;
    SourceTree tree_;
    ChecksumLists lists_;
    AdoptLook look_;
};

bool holds_section(io::FileSystem& files, const io::Path& folder, const job::AdoptRules& rules) {
    return std::ranges::any_of(files.list(folder), [&](const io::DirectoryEntry& entry) {
        return files.info(folder / entry.name).type == io::FileType::directory &&
               job::section_of_folder(entry.name, rules);
    });
}

}  // namespace

bool is_job_folder(io::FileSystem& files, const io::Path& folder, const job::AdoptRules& rules) {
    if (holds_section(files, folder, rules)) return true;
    // "exports/print": but a folder of jobs holds folders that hold sections, too.
    return job::read_folder_name(folder.filename().string(), rules).reading &&
           std::ranges::any_of(files.list(folder), [&](const io::DirectoryEntry& entry) {
               const io::Path child = folder / entry.name;
               return files.info(child).type == io::FileType::directory &&
                      holds_section(files, child, rules);
           });
}

Adopted adopt(const Context& context, const AdoptRequest& request) {
    return Adopting(context, request).run();
}

}  // namespace glassine::journeys

#include "glassine/journeys/clear.h"

#include "glassine/base/text.h"
#include "glassine/journeys/shelf.h"
#include "glassine/shelf/clearance.h"
#include "glassine/shelf/standing.h"
#include "journeys/medium_files.h"
#include "journeys/paths.h"
#include "journeys/sealed_tags.h"
#include "journeys/shelf_records.h"

#include <algorithm>
#include <iterator>
#include <map>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

using report::Ending;

class Clearing {
  public:
    Clearing(const Context& context, const ClearRequest& request)
        : context_(context),
          request_(request),
          records_(context),
          policy_(shelf_policy(context.studio)) {}

    report::ClearResult run() {
        result_.command = "clear";
        result_.path = request_.path.string();
        result_.started = context_.files.now();
        result_.copies = request_.copies.value_or(policy_.clear_copies);
        look_at_places();
        open_register();
        read_folders();
        if (!stopped_) read_and_judge();
        conclude();
        return std::move(result_);
    }

  private:
    io::Path existing_folder(const io::Path& given) const {
        if (!context_.files.find(given))
            throw Error(Cause::not_found, "look whether it may be wiped", given.string(),
                        "there is no such folder", "check that it is connected");
        io::Path resolved = context_.files.resolve(given);
        if (context_.files.info(resolved).type != io::FileType::directory)
            throw Error(Cause::usage, "look whether it may be wiped", given.string(),
                        "it is not a folder", "name the folder at the medium's root");
        return resolved;
    }

    void look_at_places() {
        path_ = existing_folder(request_.path);
        for (const io::Path& given : request_.against) {
            const io::Path folder = existing_folder(given);
            if (lies_within(folder, path_) || lies_within(path_, folder))
                throw Error(Cause::usage, "compare with the folder", given.string(),
                            "it lies on what is to be wiped, or holds it",
                            "name a folder that stays");
            against_.push_back(folder);
        }
    }

    /// One name for everything on one medium. A folder that is to be cleared is no whole medium:
    /// what lies beside it on the same disk stays.
    std::string medium_of(const io::Path& folder, bool own) {
        if (const shelf::FoundVolume* volume = records_.volume_of(folder / "."))
            return volume->identity.id;
        if (own && context_.files.volume(folder).mount_point != folder)
            return "folder:" + folder.string();
        return fmt::format("device:{}", context_.files.info(folder).device);
    }

    void open_register() {
        own_ = medium_of(path_, true);
        algorithms_ = {digest::Algorithm::sha512};
        try {
            shelf::Register* books = records_.register_if_any();
            if (books == nullptr) return;
            for (const digest::Algorithm algorithm : books->algorithms())
                if (algorithm != digest::Algorithm::sha512) algorithms_.push_back(algorithm);
            from_register_ = books->holdings();
            holdings_.push_back(from_register_.get());
            facts_ = books->facts();
            tags_ = std::make_unique<SealedTags>(context_, path_, facts_);
            holdings_.push_back(tags_.get());
        } catch (const Error& error) {
            result_.findings.push_back(found(FindingKind::not_recorded,
                                             context_.register_file.string(), error.sentence()));
        }
    }

    /// Plain folders, hashed just now.
    void read_folders() {
        for (const io::Path& folder : against_) {
            const MediumFiles there = read_medium(context_, folder, {digest::Algorithm::sha512});
            stopped_ = stopped_ || there.stopped;
            shelf::HeldCopy copy{medium_of(folder, false), folder.string(), "", "", true,
                                 context_.files.now()};
            if (const shelf::FoundVolume* volume = records_.volume_of(folder / ".")) {
                copy.place = volume->identity.place;
                copy.purchase = volume->identity.purchase;
            }
            const std::size_t number = folders_.add_folder(std::move(copy), folder.string());
            for (const shelf::MediumFile& file : there.files)
                folders_.add_file(number, file.digests.front());
            for (const Finding& f : there.findings)
                if (f.severity != Severity::note) {
                    // What cannot be read there simply does not count.
                    Finding weaker = f;
                    weaker.severity = Severity::warning;
                    weaker.path = (folder / f.path).string();
                    result_.findings.push_back(std::move(weaker));
                }
        }
        if (!against_.empty()) holdings_.push_back(&folders_);
    }

    void read_and_judge() {
        const MediumFiles medium = read_medium(context_, path_, algorithms_);
        stopped_ = medium.stopped;
        result_.bytes = medium.bytes;
        shelf::ClearanceQuestion question;
        question.files = medium.files;
        question.not_looked_at = medium.findings;
        question.own_volume = own_;
        question.copies = result_.copies;
        question.fresh = policy_.audit_every;
        question.today = utc_date(context_.files.now());
        shelf::Clearance clearance = shelf::judge_clearance(question, holdings_);
        result_.files = clearance.files;
        result_.held = clearance.held;
        result_.clear = clearance.clear && !stopped_;
        result_.list_sha512 = clearance.list.hex();
        result_.weaknesses = clearance.weaknesses;
        std::ranges::copy(clearance.findings, std::back_inserter(result_.findings));
        tell_jobs(clearance.bags, question.today);
        if (result_.clear) sign(clearance);
    }

    /// Until when the jobs are kept that now stand for what was on the medium.
    void tell_jobs(const std::map<std::string, std::uint64_t>& bags, Date today) {
        for (const shelf::BagFacts& known : facts_.bags) {
            const auto holds = bags.find(known.name);
            if (holds == bags.end()) continue;
            const auto standing = shelf::standing_of(facts_, known, policy_, today);
            if (!result_.jobs.empty() && result_.jobs.back().bag == known.name) continue;
            result_.jobs.push_back(
                {known.name, holds->second, standing.promised_until, standing.keep_until});
            if (standing.let_go_after && *standing.let_go_after < today)
                result_.weaknesses.push_back(
                    fmt::format("{} in {}, whose time ended on {}: it may be let go any day",
                                text::counted(holds->second, "file is held", "files are held"),
                                known.name, iso_date(*standing.let_go_after)));
        }
    }

    void sign(const shelf::Clearance& clearance) {
        const auto event = shelf::written_clearance(clearance, policy_, context_.person,
                                                    path_.string(), context_.files.now());
        if (!event) return;
        result_.signed_by = context_.person;
        records_.record(*event);
        // So that a rebuilt register knows it too. What is to be wiped is no place for it.
        for (const shelf::FoundVolume& volume : records_.connected_volumes())
            if (volume.identity.id != own_) records_.record(*event, &volume);
    }

    void conclude() {
        std::ranges::move(records_.take_findings(), std::back_inserter(result_.findings));
        if (!result_.clear) result_.ending = Ending::attention;
        if (stopped_) result_.ending = Ending::interrupted;
        sort_findings(result_.findings);
        result_.finished = context_.files.now();
    }

    const Context& context_;
    const ClearRequest& request_;
    ShelfRecords records_;
    shelf::Policy policy_;
    report::ClearResult result_;
    io::Path path_;
    std::vector<io::Path> against_;
    std::string own_;
    std::vector<digest::Algorithm> algorithms_;
    shelf::Facts facts_;
    std::unique_ptr<shelf::Holdings> from_register_;
    std::unique_ptr<SealedTags> tags_;
    shelf::FolderHoldings folders_;
    std::vector<shelf::Holdings*> holdings_;
    bool stopped_ = false;
};

}  // namespace

report::ClearResult clear(const Context& context, const ClearRequest& request) {
    return Clearing(context, request).run();
}

}  // namespace glassine::journeys

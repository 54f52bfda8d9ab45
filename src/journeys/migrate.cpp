#include "glassine/journeys/migrate.h"

#include "glassine/bagit/archive.h"
#include "glassine/bagit/check.h"
#include "glassine/base/text.h"
#include "glassine/io/files.h"
#include "journeys/adopt.h"
#include "journeys/audit_books.h"
#include "journeys/carry.h"
#include "journeys/carry_archive.h"
#include "journeys/copies_as_folders.h"
#include "journeys/migrate_books.h"
#include "journeys/old_drive.h"
#include "journeys/paths.h"
#include "journeys/places.h"
#include "journeys/source_tree.h"
#include "journeys/time_budget.h"
#include "journeys/upgrade_archive.h"

#include <algorithm>
#include <map>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

using report::Ending;
using report::Fate;
using report::MigratedBag;

class Migrating {
  public:
    Migrating(const Context& context, const MigrateRequest& request)
        : context_(context),
          files_(context.files),
          request_(request),
          time_(context.stop, request.budget),
          order_(context),
          books_(context) {}

    report::MigrateResult run() {
        result_.command = "migrate";
        result_.started = files_.now();
        result_.target = request_.to;
        if (request_.budget) result_.budget = request_.budget->count();
        result_.copies_wanted = context_.studio.policy.copies;
        look_at_destination();
        for (const io::Path& source : request_.sources)
            drives_.push_back(look_at_source(source));
        find_other_copies();
        for (std::size_t i = 0; i < drives_.size(); ++i)
            result_.sources.push_back(move_drive(request_.sources[i], drives_[i]));
        count_copies();
        conclude();
        return std::move(result_);
    }

  private:
    bool stopped() const { return context_.stop.stop_requested(); }

    void look_at_destination() {
        to_ = writable_folder(context_, request_.to, "migrate to");
        const auto there = files_.find(to_);
        if (there && there->type != io::FileType::directory)
            throw Error(Cause::usage, "migrate to", request_.to, "it is not a folder",
                        "name a folder on the new drive");
    }

    OldDrive look_at_source(const io::Path& source) {
        if (!files_.find(source))
            throw Error(Cause::not_found, "migrate", source.string(), "there is no such folder",
                        "check the path and that the drive is connected");
        OldDrive drive =
            look_through(files_, source, request_.adopt ? &context_.studio.adopt : nullptr);
        if (lies_within(to_, drive.root))
            throw Error(Cause::usage, "migrate to", request_.to,
                        fmt::format("it lies inside {}, which is to be migrated", source.string()),
                        "name a folder on another drive");
        if (drive.bags.empty() && drive.archives.empty() && drive.jobs.empty())
            throw Error(Cause::not_found, "migrate", source.string(),
                        request_.adopt ? "there is no bag and no job folder at or below it"
                                       : "there is no bag at or below it",
                        "a bag is a folder that holds a bagit.txt, or an archive of one; check the "
                        "path and that the "
                        "drive is connected; --adopt takes folders that were never bags");
        return drive;
    }

    void find_other_copies() {
        for (const io::Path& place : request_.from)
            for (const io::Path& bag : bagit::find_bags(
                     files_, files_.resolve(place), [](const auto&, const auto&) {},
                     [this](const io::Path& archive) {
                         others_.emplace(bagit::archive_stem(archive.filename().string()), archive);
                     }))
                others_.emplace(bag.filename().string(), bag);
    }

    report::RetiredSource move_drive(const io::Path& given, const OldDrive& drive) {
        report::RetiredSource source;
        source.path = given.string();
        source.left = drive.findings;
        std::erase_if(source.left, [](const Finding& f) { return f.severity == Severity::note; });
        source.junk = drive.junk;
        source.records = drive.records;
        source.accounted = drive.junk.size() + drive.records.size();
        source.files = source.accounted + drive.strays.size();
        source.bytes = drive.aside_bytes;
        for (const OldDrive::Kept& kept : drive.quarantines) {
            source.files += kept.files;
            source.bytes += kept.bytes;
            source.left.push_back(found(
                FindingKind::quarantined, kept.path,
                fmt::format("{} that a mending kept when it healed the bag; remove the folder "
                            "if nobody needs it any more",
                            text::counted(kept.files, "file"))));
        }
        for (const OldDrive::Stray& stray : drive.strays) {
            source.bytes += stray.bytes;
            source.left.push_back(found(FindingKind::unmapped, stray.path,
                                        "it stands in no bag and was not carried"));
        }
        for (const io::Path& bag : in_turn(drive))
            if (!left_for_later(given, drive, bag, source))
                account(move_bag(given, drive, bag), source);
        for (const io::Path& archive : drive.archives)
            if (!left_for_later(given, drive, archive, source))
                move_archive(given, drive, archive, source);
        for (const io::Path& job : drive.jobs)
            if (!left_for_later(given, drive, job, source)) adopt_job(given, drive, job, source);
        source.may_go = source.left.empty() && source.accounted == source.files;
        return source;
    }

    void account(MigratedBag moved, report::RetiredSource& source) {
        source.files += moved.files;
        source.bytes += moved.bytes;
        if (report::arrived(moved.fate)) source.accounted += moved.files;
        result_.bags.push_back(std::move(moved));
    }

    /// The bags of a volume in the order in which an audit would take them.
    std::vector<io::Path> in_turn(const OldDrive& drive) {
        std::vector<io::Path> bags;
        bags.reserve(drive.bags.size());
        for (const io::Path& bag : drive.bags)
            bags.push_back(bag.empty() ? drive.root : drive.root / bag);
        order_.arrange(bags);
        for (io::Path& bag : bags)
            bag = bag == drive.root ? io::Path() : bag.lexically_relative(drive.root);
        return bags;
    }

    /// When the time is up nothing more is begun; what is left is still told.
    bool left_for_later(const io::Path& given, const OldDrive& drive, const io::Path& what,
                        report::RetiredSource& source) {
        if (!time_.is_over()) return false;
        const io::Path there = what.empty() ? drive.root : drive.root / what;
        result_.left.push_back((what.empty() ? given : given / what).string());
        const auto info = files_.find(there);
        if (info && info->type == io::FileType::directory) {
            const SourceTree tree = list_tree(files_, there);
            source.files += tree.files.size();
            source.bytes += tree.need().bytes;
        } else if (info) {
            ++source.files;
            source.bytes += info->size;
        }
        return true;
    }

    void move_archive(const io::Path& given, const OldDrive& drive, const io::Path& archive,
                      report::RetiredSource& source) {
        const CarryRequest request = request_for(drive, archive);
        std::optional<MigratedBag> moved;
        try {
            io::make_directories(files_, request.folder);  // as the bag stands at the source
            moved = upgrade_or_carry(request);
        } catch (const Error& error) {
            moved = not_moved(error);
        }
        if (!moved) {
            const std::uint64_t size = files_.info(request.bag).size;
            ++source.files;
            source.bytes += size;
            source.left.push_back(
                found(FindingKind::unmapped, archive.generic_string(),
                      "there is no bag in this archive, and it stands in none; it "
                      "was not carried"));
            return;
        }
        moved->source = (given / archive).string();
        moved->drive = given.string();
        account(std::move(*moved), source);
    }

    /// Nothing when there is no bag in the archive.
    std::optional<MigratedBag> upgrade_or_carry(CarryRequest request) {
        const bool exchanged = books_.is_exchanged(request.bag);
        std::string why;
        if (request_.upgrade && !exchanged) {
            CopiesAsFolders copies(context_);
            request.others = copies.add_usable(other_copies(request.bag));
            if (auto made =
                    upgrade_archive(copies.context(), request, request_.recovery_percent, why)) {
                books_.enter(request.bag, exchanged, *made);
                return made;
            }
        }
        request.others = other_copies(request.bag);
        auto carried = carry_archive(context_, request);
        if (!carried) return std::nullopt;
        books_.enter(request.bag, exchanged, carried->bag, carried->met);
        if (!why.empty() && carried->bag.fate != Fate::failed)
            carried->bag.findings.push_back(
                found(FindingKind::not_upgraded, Severity::note, "", why));
        return std::move(carried->bag);
    }

    void adopt_job(const io::Path& given, const OldDrive& drive, const io::Path& job,
                   report::RetiredSource& source) {
        AdoptRequest request;
        request.folder = job.empty() ? drive.root : drive.root / job;
        request.name = job.empty() ? drive.root.filename().string() : job.generic_string();
        request.to = to_;
        request.accept = request_.accept;
        request.recovery_percent = request_.recovery_percent;
        Adopted adopted;
        try {
            adopted = adopt(context_, request);
        } catch (const Error&) {
            adopted.bag.failure = "it was interrupted";
        }
        adopted.bag.source = (job.empty() ? given : given / job).string();
        adopted.bag.drive = given.string();
        source.files += adopted.bag.files;
        source.bytes += adopted.bag.bytes;
        source.accounted += adopted.accounted;
        const auto below = [&](const std::string& path) {
            return (path.empty() ? job : job / path).generic_string();
        };
        for (Finding& f : adopted.left) {
            f.path = below(f.path);
            source.left.push_back(std::move(f));
        }
        for (const std::string& path : adopted.junk)
            source.junk.push_back(below(path));
        for (const std::string& path : adopted.rejected)
            source.rejected.push_back(below(path));
        result_.bags.push_back(std::move(adopted.bag));
    }

    MigratedBag move_bag(const io::Path& given, const OldDrive& drive, const io::Path& bag) {
        CarryRequest request = request_for(drive, bag);
        CopiesAsFolders copies(context_);
        request.others = copies.add_usable(other_copies(request.bag));
        const Context& context = copies.context();
        const bool exchanged = books_.is_exchanged(request.bag);
        MigratedBag moved;
        try {
            io::make_directories(files_, request.folder);  // as the bag stands at the source
            moved = request_.upgrade && !exchanged && !is_up_to_date(context, request.bag)
                        ? upgrade(context, request, request_.recovery_percent)
                        : carry(context, request);
            books_.enter(request.bag, exchanged, moved);
        } catch (const Error& error) {
            moved = not_moved(error);
        }
        moved.source = (bag.empty() ? given : given / bag).string();
        moved.drive = given.string();
        return moved;
    }

    CarryRequest request_for(const OldDrive& drive, const io::Path& bag) const {
        CarryRequest request;
        request.bag = bag.empty() ? drive.root : drive.root / bag;
        request.folder = bag.has_parent_path() ? to_ / bag.parent_path() : to_;
        return request;
    }

    /// Copies of the bag that stand elsewhere, folders and archives: those that were named, then
    /// those that the register knows.
    std::vector<io::Path> other_copies(const io::Path& bag) {
        const std::string file = bag.filename().string();
        const std::string name = bagit::is_archive_name(file) ? bagit::archive_stem(file) : file;
        std::vector<io::Path> others;
        const auto [from, to] = others_.equal_range(name);
        for (auto at = from; at != to; ++at)
            if (at->second != bag) others.push_back(at->second);
        for (io::Path& copy : books_.other_copies(name, bag))
            if (std::ranges::find(others, copy) == others.end()) others.push_back(std::move(copy));
        return others;
    }

    static MigratedBag not_moved(const Error& error) {
        MigratedBag bag;
        bag.failure = error.cause() == Cause::interrupted ? "it was interrupted" : error.sentence();
        return bag;
    }

    /// What the policy asks for, against what is proven now. The old drives do not count.
    void count_copies() {
        std::vector<io::Path> old;
        for (const OldDrive& drive : drives_)
            old.push_back(drive.root);
        books_.count_copies(result_.bags, old);
        for (report::RetiredSource& source : result_.sources)
            for (const MigratedBag& bag : result_.bags)
                if (bag.drive == source.path && !bag.lacks.empty()) ++source.too_few;
        result_.findings = books_.take_findings(to_);
    }

    void conclude() {
        for (const MigratedBag& bag : result_.bags) {
            if (bag.fate == Fate::failed)
                result_.ending = report::worse(result_.ending, Ending::failed);
            else if (!report::arrived(bag.fate))
                result_.ending = report::worse(result_.ending, Ending::attention);
        }
        if (std::ranges::any_of(result_.sources, [](const auto& s) { return !s.may_go; }))
            result_.ending = report::worse(result_.ending, Ending::attention);
        if (stopped()) result_.ending = Ending::interrupted;
        result_.finished = files_.now();
    }

    const Context& context_;
    io::FileSystem& files_;
    const MigrateRequest& request_;
    report::MigrateResult result_;
    TimeBudget time_;
    AuditBooks order_;
    MigrateBooks books_;
    io::Path to_;
    std::vector<OldDrive> drives_;
    std::multimap<std::string, io::Path> others_;  ///< by the name of the bag, or of its archive
};

}  // namespace

report::MigrateResult migrate(const Context& context, const MigrateRequest& request) {
    return Migrating(context, request).run();
}

}  // namespace glassine::journeys

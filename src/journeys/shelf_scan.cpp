#include "glassine/bagit/archive.h"
#include "glassine/bagit/check.h"
#include "glassine/base/text.h"
#include "glassine/flow/destination.h"
#include "glassine/io/files.h"
#include "glassine/journeys/shelf.h"
#include "glassine/shelf/register.h"
#include "glassine/shelf/volume_log.h"
#include "journeys/bag_record.h"
#include "journeys/bag_source.h"
#include "journeys/shelf_records.h"

#include <algorithm>
#include <iterator>
#include <map>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

using report::Ending;
using shelf::Register;

/// A volume, and the bags on it that were met.
struct Met {
    shelf::FoundVolume volume;
    std::vector<std::string> below;  ///< folders of it that were looked through; "": all
    std::vector<io::Path> bags;      ///< folders and archives
    bool doubtful = false;           ///< it carries the identity of another one
};

class Scan {
  public:
    Scan(const Context& context, const std::vector<io::Path>& paths)
        : context_(context), paths_(paths) {}

    report::ShelfScanResult run() {
        result_.command = "shelf scan";
        result_.started = context_.files.now();
        for (const io::Path& path : paths_)
            look_through(path);
        open();
        for (auto& [root, met] : volumes_) {
            if (context_.stop.stop_requested()) break;
            take_in(met);
        }
        conclude();
        return std::move(result_);
    }

  private:
    // Looking: nothing is written before all of it is known.

    void look_through(const io::Path& given) {
        io::FileSystem& files = context_.files;
        if (!files.find(given))
            throw Error(Cause::not_found, "look through the folder", given.string(),
                        "there is no such folder", "check that the drive is connected");
        const io::Path path = files.resolve(given);
        const auto above = shelf::find_volume(files, path);
        if (above) met(*above).below.push_back(above->relative(path));
        std::vector<io::Path> bags;
        const auto visit = [&](const io::WalkEntry& entry) {
            const io::Path name = io::Path(entry.path).filename();
            if (name == shelf::identity_file_name)
                meet_volume((path / entry.path).parent_path());
            else if (entry.type == io::FileType::regular && bagit::is_archive_name(name.string()))
                bags.push_back(path / entry.path);
        };
        const auto enter = [&](const io::WalkEntry& entry) { return goes_into(path, entry, bags); };
        const auto fail = [&](const std::string& below, const Error& error) {
            tell(found(FindingKind::unreadable, (path / below).string(), error.sentence()));
        };
        if (may_hold_bag(files, path))
            bags.push_back(path);
        else
            io::walk(files, path, visit, fail, enter);
        sort_in(path, bags);
    }

    /// Bags are not walked into, and what a close-out has not finished is none.
    bool goes_into(const io::Path& path, const io::WalkEntry& entry, std::vector<io::Path>& bags) {
        const io::Path folder = path / entry.path;
        if (flow::is_staging_name(folder.filename().string())) return false;
        try {
            if (!bagit::is_bag_folder(context_.files, folder)) return true;
            bags.push_back(folder);
        } catch (const Error& error) {
            tell(found(FindingKind::unreadable, folder.string(), error.sentence()));
        }
        return false;
    }

    Met& met(const shelf::FoundVolume& volume) {
        const auto known = volumes_.find(volume.root);
        if (known != volumes_.end()) return known->second;
        Met fresh{volume, {}, {}, false};
        for (Finding& doubt : shelf::check_witness(volume)) {
            doubt.severity = Severity::blocking;
            doubt.detail +=
                "; nothing on it was taken in: `glassine shelf add --new-identity` "
                "makes it a volume of its own, `--change` says that it is the old one";
            fresh.doubtful = true;
            tell(std::move(doubt));
        }
        return volumes_.emplace(volume.root, std::move(fresh)).first->second;
    }

    void meet_volume(const io::Path& root) {
        try {
            if (const auto volume = shelf::volume_at(context_.files, root))
                met(*volume).below.emplace_back();
        } catch (const Error& error) {
            tell(found(FindingKind::unreadable, root.string(), error.sentence()));
        }
    }

    void sort_in(const io::Path& path, const std::vector<io::Path>& bags) {
        std::size_t homeless = 0;
        for (const io::Path& bag : bags) {
            const auto volume = shelf::find_volume(context_.files, bag);
            if (volume)
                met(*volume).bags.push_back(bag);
            else
                ++homeless;
        }
        if (homeless > 0)
            tell(found(FindingKind::volume_unknown, Severity::blocking, path.string(),
                       fmt::format("{} on no volume that has an identity; `glassine shelf add` "
                                   "gives the drive one, then scan it again",
                                   text::counted(homeless, "bag lies", "bags lie"))));
        else if (volumes_.empty())
            tell(found(FindingKind::volume_unknown, Severity::blocking, path.string(),
                       "there is neither a bag nor a volume of the shelf at or below it; `glassine "
                       "shelf add` gives a drive an identity"));
    }

    // Writing.

    void open() {
        const io::Path& file = context_.register_file;
        if (file.empty())
            throw Error(Cause::usage, "open the register", "", "no place for it is known",
                        "name one with --register, or set XDG_DATA_HOME or HOME");
        const auto phase = context_.monitor.phase("Checking the register");
        const auto check = Register::examine(context_.files, file, Register::Depth::full);
        if (check.state == shelf::RegisterState::damaged) {
            result_.set_aside = Register::set_aside(context_.files, file).string();
            tell(found(FindingKind::register_new, Severity::warning, file.string(),
                       fmt::format("the register was damaged ({}); it is kept in {}, and a new one "
                                   "was begun: scan the drives that are not connected now as well",
                                   check.why, result_.set_aside)));
        }
        if (check.state == shelf::RegisterState::damaged ||
            check.state == shelf::RegisterState::missing) {
            if (file.has_parent_path()) io::make_directories(context_.files, file.parent_path());
            Register::create(context_.files, file);
            if (check.state == shelf::RegisterState::missing)
                tell(found(FindingKind::register_new, file.string(),
                           "there was no register yet, a new one was begun"));
        }
        register_.emplace(context_.files, file);
    }

    /// Two volumes with one identity are told, and only the first is taken in.
    bool is_clone(const shelf::FoundVolume& volume) {
        std::vector<shelf::FoundVolume> all(taken_);
        all.push_back(volume);
        auto clones = shelf::check_clones(all);
        taken_.push_back(volume);
        for (Finding& clone : clones) {
            clone.severity = Severity::blocking;
            clone.detail +=
                "; nothing on it was taken in: `glassine shelf add --new-identity` "
                "makes it a volume of its own";
            tell(std::move(clone));
        }
        return !clones.empty();
    }

    void take_in(const Met& met) {
        const shelf::FoundVolume& volume = met.volume;
        if (met.doubtful || is_clone(volume)) return;
        const auto phase = context_.monitor.phase(
            fmt::format("Taking in {}", text::for_terminal(volume.root.string())));
        report::ScannedVolume scanned{volume.identity, volume.root.string(), 0, 0, 0};
        Register::Batch batch(*register_);
        register_->record_volume(volume.identity, volume.root);
        take_events(scanned, read_log(volume));
        std::vector<shelf::SeenCopy> seen;
        for (const io::Path& bag : met.bags)
            take_bag(volume, bag, scanned, seen);
        for (const std::string& below : met.below)
            if (!context_.stop.stop_requested())
                register_->finish_scan(volume.identity.id, below, seen);
        batch.commit();
        result_.volumes.push_back(std::move(scanned));
    }

    std::vector<shelf::Event> read_log(const shelf::FoundVolume& volume) {
        const io::Path log = volume.root / shelf::event_log_name;
        try {
            shelf::EventLines lines = shelf::read_volume_log(context_.files, volume.root);
            tell_problems(log, lines);
            return std::move(lines.events);
        } catch (const Error& error) {
            tell(found(FindingKind::unreadable, log.string(), error.sentence()));
            return {};
        }
    }

    void tell_problems(const io::Path& file, const shelf::EventLines& lines) {
        for (const std::string& problem : lines.problems)
            tell(found(FindingKind::not_recorded, file.string(),
                       problem + "; the line was passed over"));
        if (lines.torn)
            tell(found(FindingKind::not_recorded, Severity::note, file.string(),
                       "its last line was cut off when it was written, and was passed over"));
    }

    void take_events(report::ScannedVolume& scanned, const std::vector<shelf::Event>& events) {
        scanned.events += events.size();
        scanned.new_events += register_->record_events(events);
    }

    void take_bag(const shelf::FoundVolume& volume, const io::Path& bag,
                  report::ScannedVolume& scanned, std::vector<shelf::SeenCopy>& seen) {
        if (context_.stop.stop_requested()) return;
        try {
            BagSource source(context_, bag);
            shelf::BagRecord record = bag_record(source);
            if (record.seal.empty()) {
                tell(found(FindingKind::manifest_missing, bag.string(),
                           "nothing tells this bag from another, so it was not taken in"));
                return;
            }
            record.volume = volume.identity.id;
            record.path = volume.relative(bag);
            register_->record_bag(record);
            seen.push_back({{record.name, record.seal}, !record.media_type.empty()});
            ++scanned.bags;
            take_events(scanned, events_in(source));
        } catch (const Error& error) {
            if (error.cause() == Cause::interrupted || error.path() == context_.register_file)
                throw;
            // Most archives on a server have nothing to do with bags.
            if (error.cause() == Cause::not_found && holds_no_bag(bag)) return;
            tell(found(FindingKind::unreadable, bag.string(), error.sentence()));
        }
    }

    bool holds_no_bag(const io::Path& archive) const {
        const auto info = context_.files.find(archive);
        return info && info->type == io::FileType::regular;
    }

    /// What the bag itself tells of its making. Its lines are about the bag and no copy of it.
    std::vector<shelf::Event> events_in(BagSource& bag) {
        const auto text = bag.small_file("events.jsonl");
        if (!text) return {};
        shelf::EventLines lines = shelf::parse_event_lines(*text);
        std::erase_if(lines.events, [&](const shelf::Event& event) {
            return event.object(shelf::object_type::bag) != bag.name() ||
                   !event.object(shelf::object_type::volume).empty();
        });
        return std::move(lines.events);
    }

    /// Copies that the register expects where was looked, and that are not there.
    void tell_lost() {
        if (!register_) return;
        const shelf::Facts facts = register_->facts();
        for (const auto& [root, met] : volumes_)
            for (const shelf::BagFacts& bag : facts.bags)
                for (const shelf::CopyFacts& copy : bag.copies) {
                    if (copy.volume != met.volume.identity.id ||
                        copy.state != shelf::CopyState::missing || !was_looked_at(met, copy.path))
                        continue;
                    tell(found(FindingKind::copy_lost, (root / copy.path).string(),
                               fmt::format("the register expects a copy of {} here", bag.name)));
                }
    }

    static bool was_looked_at(const Met& met, const std::string& path) {
        return std::ranges::any_of(met.below, [&](const std::string& below) {
            return below.empty() || path == below || path.starts_with(below + "/");
        });
    }

    void tell(Finding finding) { result_.findings.push_back(std::move(finding)); }

    void conclude() {
        tell_lost();
        sort_findings(result_.findings);
        result_.findings.erase(std::unique(result_.findings.begin(), result_.findings.end()),
                               result_.findings.end());
        if (any_at_least(result_.findings, Severity::blocking)) result_.ending = Ending::attention;
        if (context_.stop.stop_requested()) result_.ending = Ending::interrupted;
        result_.finished = context_.files.now();
    }

    const Context& context_;
    const std::vector<io::Path>& paths_;
    report::ShelfScanResult result_;
    std::map<io::Path, Met> volumes_;  ///< by root
    std::vector<shelf::FoundVolume> taken_;
    std::optional<Register> register_;
};

}  // namespace

report::ShelfScanResult shelf_scan(const Context& context, const std::vector<io::Path>& paths) {
    return Scan(context, paths).run();
}

}  // namespace glassine::journeys

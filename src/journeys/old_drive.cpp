#include "journeys/old_drive.h"

#include "glassine/bagit/archive.h"
#include "glassine/bagit/check.h"
#include "glassine/flow/destination.h"
#include "glassine/io/files.h"
#include "glassine/shelf/volume.h"
#include "journeys/adopt.h"
#include "journeys/mend_workshop.h"
#include "journeys/source_tree.h"

namespace glassine::journeys {
namespace {

/// The identity file and event log that `shelf add` puts at a volume's root (docs/shelf.md).
bool is_our_own(const std::string& path) {
    return path == shelf::identity_file_name || path == shelf::event_log_name;
}

class DriveLooking {
  public:
    DriveLooking(io::FileSystem& files, const io::Path& path, const job::AdoptRules* adopt)
        : files_(files), adopt_(adopt) {
        drive_.root = files.resolve(path);
        if (files.info(drive_.root).type != io::FileType::directory)
            throw Error(Cause::usage, "migrate", path.string(), "it is not a folder",
                        "name a bag, or a folder or drive of bags");
    }

    OldDrive look() {
        if (bagit::is_bag_folder(files_, drive_.root)) {
            drive_.bags.emplace_back();
            return std::move(drive_);
        }
        if (adopt_ != nullptr && is_job_folder(files_, drive_.root, *adopt_)) {
            drive_.jobs.emplace_back();
            return std::move(drive_);
        }
        io::walk(
            files_, drive_.root, [&](const io::WalkEntry& entry) { met(entry); },
            [&](const std::string& path, const Error& error) { unreadable(path, error); },
            [&](const io::WalkEntry& entry) { return enter(entry); });
        return std::move(drive_);
    }

  private:
    void unreadable(const std::string& path, const Error& error) {
        drive_.findings.push_back(found(FindingKind::unreadable, path, error.sentence()));
    }

    bool enter(const io::WalkEntry& entry) {
        if (flow::is_staging_name(io::Path(entry.path).filename().string())) {
            drive_.findings.push_back(found(FindingKind::unfinished_file, Severity::note,
                                            entry.path,
                                            "an interrupted run left it; it was not carried"));
            return false;
        }
        try {
            const io::Path folder = drive_.root / entry.path;
            if (is_quarantine(files_, folder)) return keep_quarantine(entry.path);
            const bool bag = bagit::is_bag_folder(files_, folder);
            if (!bag && (adopt_ == nullptr || !is_job_folder(files_, folder, *adopt_))) return true;
            (bag ? drive_.bags : drive_.jobs).emplace_back(entry.path);
        } catch (const Error& error) {
            unreadable(entry.path, error);
        }
        return false;
    }

    bool keep_quarantine(const std::string& path) {
        const SourceTree tree = list_tree(files_, drive_.root / path);
        drive_.quarantines.push_back({path, tree.files.size(), tree.need().bytes});
        return false;
    }

    void met(const io::WalkEntry& entry) {
        if (entry.type == io::FileType::directory) return;
        const std::string name = io::Path(entry.path).filename().string();
        if (entry.type != io::FileType::regular) {
            drive_.findings.push_back(found(FindingKind::special_file, Severity::blocking,
                                            entry.path,
                                            "it is no file and no folder, and stands in no bag"));
        } else if (in_junk(entry.path) || is_our_own(entry.path)) {
            (is_our_own(entry.path) ? drive_.records : drive_.junk).push_back(entry.path);
            drive_.aside_bytes += entry.info.size;
        } else if (bagit::is_archive_name(name)) {
            drive_.archives.emplace_back(entry.path);
        } else {
            drive_.strays.push_back({entry.path, entry.info.size});
        }
    }

    io::FileSystem& files_;
    const job::AdoptRules* adopt_;
    OldDrive drive_;
};

}  // namespace

OldDrive look_through(io::FileSystem& files, const io::Path& path, const job::AdoptRules* adopt) {
    return DriveLooking(files, path, adopt).look();
}

}  // namespace glassine::journeys

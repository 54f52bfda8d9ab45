#include "journeys/audit_reading.h"

#include "glassine/bagit/archive.h"
#include "journeys/copies_as_folders.h"
#include "journeys/damaged_pictures.h"
#include "journeys/healing_outlook.h"

#include <algorithm>
#include <functional>
#include <iterator>
#include <memory>
#include <utility>

namespace glassine::journeys {
namespace {

/// Where a bag is a folder: on the disk, or in a plain archive.
struct Folder {
    io::FileSystem& files;
    const io::Path& path;
    std::function<bagit::BagReport(bagit::CheckOptions&)> check;
};

/// Reads it once, for the digests and for what its recovery data says about damage.
report::AuditedBag check_with_outlook(const Context& context, const Folder& folder,
                                      bagit::CheckOptions options) {
    report::AuditedBag bag;
    if (options.quick) {
        bag.report = folder.check(options);
        return bag;
    }
    const Context there = seen_through(context, folder.files);
    HealingOutlook outlook(there, folder.path);
    options.further = outlook.sinks();
    bag.report = folder.check(options);
    outlook.conclude(bag.report, bag.outlook);
    if (!bag.report.stopped) tell_picture_loss(folder.files, folder.path, bag.report);
    return bag;
}

}  // namespace

report::Ending ending_of_bag(const bagit::BagReport& bag) {
    if (bag.stopped) return report::Ending::interrupted;
    if (!bag.complete || (bag.valid && !*bag.valid) ||
        any_at_least(bag.findings, Severity::blocking))
        return report::Ending::attention;
    return report::Ending::good;
}

report::AuditedBag audit_folder(const Context& context, const io::Path& path,
                                const bagit::CheckOptions& options, AuditBooks& books) {
    return check_with_outlook(context,
                              {context.files, path,
                               [&](bagit::CheckOptions& o) {
                                   books.look(path, o);
                                   if (!o.quick) books.begin(path, o);
                                   return bagit::check_folder(context.files, path, o);
                               }},
                              options);
}

report::AuditedBag audit_archive(const Context& context, const io::Path& path,
                                 bagit::CheckOptions options, AuditBooks& books) {
    report::AuditedBag bag;
    std::unique_ptr<bagit::PlainArchive> plain;
    // What cannot be looked through at all is told by the check itself.
    if (!context.stop.stop_requested())
        plain = bagit::PlainArchive::open(context.files, path, options.flow);
    books.look_at_archive(path);
    books.begin_archive(!plain, options);
    if (plain && plain->contents().readable)
        bag = check_with_outlook(context,
                                 {plain->files(), plain->folder(),
                                  [&](bagit::CheckOptions& o) { return plain->check(o); }},
                                 options);
    else
        bag.report = bagit::check_archive(context.files, path, options);
    if (options.quick)
        std::ranges::move(books.exchanged(), std::back_inserter(bag.report.findings));
    if (!bag.outlook.empty())
        bag.outlook += "; an archive is not healed in place: migrate makes a whole folder of it";
    return bag;
}

std::optional<bagit::BagReport> first_look(const Context& context, const io::Path& path,
                                           bool is_archive, bagit::CheckOptions options) {
    options.quick = true;
    if (!is_archive) return bagit::check_folder(context.files, path, options);
    const auto plain = bagit::PlainArchive::open(context.files, path, options.flow);
    return plain ? std::optional(plain->check(options)) : std::nullopt;
}

}  // namespace glassine::journeys

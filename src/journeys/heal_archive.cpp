#include "journeys/heal_archive.h"

#include "glassine/bagit/archive.h"
#include "glassine/recovery/layout.h"
#include "journeys/bag_reading.h"
#include "journeys/bag_record.h"
#include "journeys/copies_as_folders.h"

#include <algorithm>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

bool holds_recovery_data(const bagit::Listing& listing) {
    for (bagit::Listing::Index i = 0; i < listing.size(); ++i)
        if (recovery::is_file_name(listing[i].name)) return true;
    return false;
}

/// Carries the folder if that comes out whole.
std::optional<report::MigratedBag> carried_whole(const Context& context, CarryRequest request) {
    request.only_whole = true;
    report::MigratedBag bag = carry(context, request);
    return report::arrived(bag.fate) ? std::optional(std::move(bag)) : std::nullopt;
}

/// From the archive's own content, put right where it is damaged.
std::optional<report::MigratedBag> heal_inside(const Context& context,
                                               const CarryRequest& request) {
    const auto plain =
        bagit::PlainArchive::open(context.files, request.bag, reading_options(context));
    if (!plain || !is_one_bag(plain->contents())) return std::nullopt;
    CopiesAsFolders copies(seen_through(context, plain->files()));
    CarryRequest folder = request;
    folder.bag = plain->folder();
    folder.others = copies.add_usable(request.others);
    if (folder.others.empty() && !holds_recovery_data(plain->contents().listing))
        return std::nullopt;
    auto bag = carried_whole(copies.context(), std::move(folder));
    if (bag && bag->fate != report::Fate::already)
        bag->findings.push_back(found(FindingKind::healed, "",
                                      "the archive is damaged at the source; the bag in it was "
                                      "healed and stands in a folder"));
    return bag;
}

bool has_seal(const Context& context, const io::Path& bag, const std::string& seal) try {
    return bag_record(context, bag).seal == seal;
} catch (const Error& error) {
    if (error.cause() == Cause::interrupted) throw;
    return false;
}

/// From another copy altogether: the first folder that is the same bag and comes out whole.
std::optional<report::MigratedBag> take_other(const Context& context, const CarryRequest& request,
                                              const std::string& seal) {
    CopiesAsFolders copies(context);
    const std::vector<io::Path> folders = copies.add_usable(request.others);
    for (const io::Path& folder : folders) {
        if (!has_seal(copies.context(), folder, seal)) continue;
        CarryRequest other = request;
        other.bag = folder;
        other.others = folders;
        std::erase(other.others, folder);
        if (auto bag = carried_whole(copies.context(), std::move(other))) {
            bag->healed.push_back({request.bag.filename().string(), folder.string(), {}});
            if (bag->fate != report::Fate::already)
                bag->findings.push_back(
                    found(FindingKind::healed, "",
                          fmt::format(
                              "the archive is damaged at the source and is not healed; carried in "
                              "its place is the folder {}",
                              folder.string())));
            return bag;
        }
    }
    return std::nullopt;
}

}  // namespace

std::optional<report::MigratedBag> carry_healed(const Context& context, const CarryRequest& request,
                                                const std::optional<std::string>& seal) {
    auto bag = heal_inside(context, request);
    if (!bag && seal) bag = take_other(context, request, *seal);
    if (!bag) return std::nullopt;
    bag->source = request.bag.string();
    bag->files = 1;
    bag->bytes = context.files.info(request.bag).size;
    if (bag->fate == report::Fate::already)
        bag->how.append("; the archive at the source is damaged");
    return bag;
}

}  // namespace glassine::journeys

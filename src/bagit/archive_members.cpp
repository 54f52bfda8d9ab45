#include "archive_members.h"

#include "companion.h"
#include "glassine/bagit/layout.h"
#include "glassine/bagit/path.h"
#include "glassine/base/text.h"
#include "words.h"

#include <algorithm>
#include <map>

#include <fmt/format.h>

namespace glassine::bagit {
namespace {

using enum FindingKind;

/// No file system takes longer paths (docs/bagit-decisions.md).
constexpr std::size_t longest_name = 64u << 10;

std::string_view top_of(std::string_view name) {
    return name.substr(0, name.find('/'));
}

std::string_view below(std::string_view name, std::string_view base) {
    if (base.empty()) return name;
    return name.size() > base.size() && name.starts_with(base) && name[base.size()] == '/'
               ? name.substr(base.size() + 1)
               : std::string_view();
}

bool marks_a_bag(std::string_view name) {
    const auto manifest = manifest_name(name);
    return name == declaration_file || (manifest && manifest->kind == ManifestKind::payload);
}

/// Folders are written with a slash behind them.
std::string_view without_slash(std::string_view name) {
    while (name.size() > 1 && name.ends_with('/'))
        name.remove_suffix(1);
    return name;
}

/// What one operating system's packer puts beside everything it packs.
bool packers_own(std::string_view top) {
    return top == "__MACOSX" || top == ".DS_Store";
}

}  // namespace

std::optional<std::string_view> standard_tag_file(std::string_view member) {
    const std::size_t slash = member.find('/');
    const std::string_view name =
        slash == std::string_view::npos ? member : member.substr(slash + 1);
    if (name.empty() || name.find('/') != std::string_view::npos) return std::nullopt;
    if (name == declaration_file || name == bag_info_file || name == package_info_file ||
        name == fetch_file || manifest_name(name) || companion_name(name))
        return name;
    return std::nullopt;
}

bool ArchiveMembers::add(const RawMember& member, std::uint64_t offset) {
    const std::string_view written = without_slash(member.name);
    const auto why = written.size() > longest_name
                         ? std::optional<std::string_view>("it is longer than any path can be")
                         : unsafe_path(written);
    std::string name;
    if (why)
        report(found(
            path_unsafe, shown_path(written),
            fmt::format("the archive has a member of this name, and {}; it was left out", *why)));
    else if (written != ".")
        name = canonical_path(written);
    if (member.other_name)
        report(found(archive_malformed, shown_path(written),
                     "the directory at the end of the archive gives it another name, by which "
                     "other tools may unpack it"));
    // A name of nothing (left out, or the archive's own top) takes no room.
    const std::string_view kept = name.empty() ? std::string_view() : names_.add(name);
    name_bytes_ += name.size();
    if (member.hard_link && !name.empty()) links_.push_back({size(), *member.hard_link});
    members_.push_back({kept.data(), static_cast<std::uint32_t>(kept.size()), member.type,
                        member.size, offset, member.modified});
    return !name.empty();
}

/// The top-level folder that is the bag: the first one with a bagit.txt or a payload manifest in
/// it; nothing in a folder means that the bag's files stand outside any.
std::string ArchiveMembers::choose_base() {
    std::string first_folder;
    for (Ordinal i = 0; i < members_.size(); ++i) {
        const std::string_view name = members_[i].view();
        const std::string_view top = top_of(name);
        if (marks_a_bag(name)) return {};
        if (top.size() < name.size() && marks_a_bag(name.substr(top.size() + 1)))
            return std::string(top);
        const bool folder = top.size() < name.size() || members_[i].type == io::FileType::directory;
        if (first_folder.empty() && folder && !packers_own(top)) first_folder = top;
    }
    return first_folder;
}

/// 0.97 §4-1, -3: one bag and nothing beside it, in a folder of its own.
void ArchiveMembers::tell_neighbours(const std::string& base) {
    if (base.empty()) {
        report(
            found(archive_malformed, "",
                  "the bag's files stand at the top of the archive, not in one folder: unpacked, "
                  "they would lie among whatever else is there"));
        return;
    }
    std::map<std::string_view, bool> told;
    for (Ordinal i = 0; i < members_.size(); ++i) {
        const std::string_view top = top_of(members_[i].view());
        if (top.empty() || top == base || !told.emplace(top, true).second || told.size() > 100)
            continue;
        if (packers_own(top))
            report(found(standard_discouraged, Severity::warning, std::string(top),
                         "the program that packed the archive added this beside the bag"));
        else
            report(found(archive_malformed, std::string(top),
                         fmt::format("it stands beside the bag “{}”; an archive holds one bag and "
                                     "nothing else",
                                     excerpt(base))));
    }
}

void ArchiveMembers::take(const std::string& base, Sorted& into) {
    for (Ordinal i = 0; i < members_.size(); ++i) {
        const Member& member = members_[i];
        const std::string_view name = below(member.view(), base);
        if (name.empty()) continue;
        into.contents.listing.add(name, member.type, member.size, member.modified);
        into.member_of.push_back(i);
    }
}

/// Of several members of one name unpacking leaves the last or asks: the bag is told to be damaged
/// and the first is looked at. Folders may be named as often as one likes.
void ArchiveMembers::drop_doubles(Sorted& into) {
    const Listing& all = into.contents.listing;
    std::vector<Listing::Index> good;
    for (Listing::Index i = 0; i < all.size(); ++i) {
        const Listing::Index first = all.find(all[i].name);
        if (first == i) {
            good.push_back(i);
        } else if (all[i].type != io::FileType::directory ||
                   all[first].type != io::FileType::directory) {
            report(found(archive_malformed, std::string(all[i].name),
                         "the archive has more than one member of this name; the first was "
                         "looked at, and other tools may unpack the last"));
        }
    }
    if (good.size() == all.size()) return;
    Sorted kept;
    for (const Listing::Index i : good) {
        kept.contents.listing.add(all[i].name, all[i].type, all[i].size, all[i].modified);
        kept.member_of.push_back(into.member_of[i]);
    }
    into = std::move(kept);
}

/// A hard link is another name of a member that came before it. One that leads anywhere else is
/// told as a special file and has no content.
void ArchiveMembers::resolve_links(const std::string& base, Sorted& into) {
    std::map<Ordinal, std::string_view> targets;
    for (const Link& link : links_)
        targets[link.member] = link.target;
    if (targets.empty()) return;
    const Listing& all = into.contents.listing;
    Sorted resolved;
    std::vector<Listing::Index> place(all.size(), Listing::none);  ///< in `resolved`
    for (Listing::Index i = 0; i < all.size(); ++i) {
        Ordinal from = into.member_of[i];
        if (const auto link = targets.find(from); link != targets.end()) {
            const std::string path =
                unsafe_path(link->second) ? std::string() : canonical_path(link->second);
            const Listing::Index target = all.find(below(path, base));
            // One that was left out itself leads nowhere.
            if (target == Listing::none || target >= i || place[target] == Listing::none ||
                !all.is_file(target)) {
                report(found(special_file, std::string(all[i].name),
                             fmt::format("it is a hard link to “{}”, which is no file of the bag "
                                         "that comes before it",
                                         excerpt(link->second))));
                continue;
            }
            from = resolved.member_of[place[target]];
        }
        place[i] = resolved.contents.listing.size();
        resolved.contents.listing.add(all[i].name, all[i].type, members_[from].size,
                                      all[i].modified);
        resolved.member_of.push_back(from);
    }
    into = std::move(resolved);
}

/// A name that is a file and a folder at once.
void ArchiveMembers::tell_files_as_folders(const Listing& listing) {
    std::string last;
    for (Listing::Index i = 0; i < listing.size(); ++i) {
        const std::string_view name = listing[i].name;
        std::string_view parent = name.substr(0, std::min(name.rfind('/'), name.size()));
        if (parent == name || parent == last) continue;
        last = parent;
        while (!parent.empty()) {
            const Listing::Index at = listing.find(parent);
            if (at != Listing::none && listing[at].type != io::FileType::directory)
                report(found(
                    archive_malformed, std::string(parent),
                    fmt::format("it is no folder, and yet “{}” is to lie in it", excerpt(name))));
            const std::size_t slash = parent.rfind('/');
            parent = parent.substr(0, slash == std::string_view::npos ? 0 : slash);
        }
    }
}

ArchiveMembers::Sorted ArchiveMembers::sort(std::string_view file_name) {
    Sorted out;
    const std::string base = choose_base();
    take(base, out);
    drop_doubles(out);
    resolve_links(base, out);
    tell_files_as_folders(out.contents.listing);
    if (members_.size() > 0) tell_neighbours(base);
    ArchiveContents& c = out.contents;
    c.bag_name = base;
    if (!base.empty() && base != archive_stem(file_name))
        report(found(standard_discouraged, Severity::warning, "",
                     fmt::format("the bag in the archive is called “{}”, the archive “{}”",
                                 excerpt(base), excerpt(file_name))));
    c.plain = true;
    for (Listing::Index i = 0; i < c.listing.size(); ++i) {
        const Member& member = members_[out.member_of[i]];
        const bool content = c.listing.is_file(i) && member.size > 0;
        c.offsets.push_back(content ? member.offset : 0);
        c.plain = c.plain && c.offsets.back() != ArchiveContents::packed;
        c.has_bag = c.has_bag || (c.listing.is_file(i) && marks_a_bag(c.listing[i].name));
    }
    c.findings = std::move(findings_);
    return out;
}

}  // namespace glassine::bagit

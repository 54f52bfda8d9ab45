#include "glassine/bagit/path.h"
#include "glassine/base/text.h"
#include "structure.h"
#include "words.h"

#include <algorithm>

#include <fmt/format.h>

/// What payload manifests, fetch.txt and Payload-Oxum say about the files under data/.
namespace glassine::bagit {
namespace {

using enum FindingKind;

bool is_payload(const Bag::Matched& m) {
    return m.manifest.name().kind == ManifestKind::payload;
}

/// Which payload manifests list a file, and which do not although all of them could be read.
struct Sides {
    std::vector<std::string> with;
    std::vector<std::string> without;
    bool torn = false;
};

Sides sides_of(const Bag& bag, Bag::Index file) {
    Sides sides;
    for (const Bag::Matched& m : bag.manifests()) {
        if (!is_payload(m)) continue;
        if (m.entry_of[file] != 0)
            sides.with.push_back(m.manifest.file());
        else if (m.manifest.torn())
            sides.torn = true;
        else
            sides.without.push_back(m.manifest.file());
    }
    return sides;
}

void tell_disagreement(const Bag& bag, Bag::Index file, FindingsLog& log) {
    const Sides sides = sides_of(bag, file);
    if (sides.with.empty() || sides.without.empty()) return;
    log.add(found(manifests_disagree, Severity::damage, std::string(bag.listing()[file].name),
                  fmt::format("{} {} it, {} {} not", listed(sides.with),
                              sides.with.size() > 1 ? "list" : "lists", listed(sides.without),
                              sides.without.size() > 1 ? "do" : "does")));
}

/// Payload manifests in whose lists a file stands; cheap, for every file of the bag.
std::size_t times_listed(const Bag& bag, Bag::Index file) {
    return static_cast<std::size_t>(std::ranges::count_if(
        bag.manifests(), [&](const auto& m) { return is_payload(m) && m.entry_of[file] != 0; }));
}

/// In 0.93 and 0.94 tag files may stand in payload manifests, and then in all of them.
bool must_agree_on(const Bag& bag, std::string_view name) {
    if (!bag.rules().every_manifest_lists_all) return false;
    return in_payload(name) || (!bag.rules().tag_file_in_payload_manifest && !manifest_name(name));
}

bool listed_by(const Bag::Matched& m, const Listing& listing, std::string_view path) {
    const Bag::Index file = listing.find(path);
    if (file != Listing::none && m.entry_of[file] != 0) return true;
    return find_unanswered(m, path).has_value();
}

}  // namespace

void check_payload_entries(const Bag::Matched& m, const Rules& rules, FindingsLog& log) {
    const Manifest& manifest = m.manifest;
    for (std::uint32_t e = 0; e < manifest.size(); ++e) {
        const Manifest::Entry entry = manifest[e];
        if (in_payload(entry.path)) continue;
        const bool itself = entry.path == manifest.file();
        const Weight weight = itself ? Severity::damage : rules.tag_file_in_payload_manifest;
        if (!weight) continue;
        log.add(found(manifest_malformed, *weight, manifest.file(),
                      fmt::format("line {} lists {}: “{}”", entry.line,
                                  itself ? "the manifest itself" : "a file that is not under data/",
                                  excerpt(entry.path))));
    }
}

std::vector<Bag::Missing> find_missing(const Bag& bag, FindingsLog& log) {
    const auto path_of = [&](const Bag::Missing& m) {
        return bag.manifests()[m.manifest].manifest[m.entry].path;
    };
    std::vector<Bag::Missing> all;
    for (std::uint32_t m = 0; m < bag.manifests().size(); ++m)
        for (const std::uint32_t e : bag.manifests()[m].unanswered)
            all.push_back({m, e, false});
    // Those with a digest first: a moved file is known by it.
    std::ranges::stable_sort(all, [&](const Bag::Missing& a, const Bag::Missing& b) {
        const auto digest = [&](const Bag::Missing& x) {
            return bag.manifests()[x.manifest].manifest[x.entry].digest.empty();
        };
        return std::pair(path_of(a), digest(a)) < std::pair(path_of(b), digest(b));
    });
    const auto doubles = std::unique(
        all.begin(), all.end(),
        [&](const Bag::Missing& a, const Bag::Missing& b) { return path_of(a) == path_of(b); });
    all.erase(doubles, all.end());

    std::vector<std::string_view> fetched;
    for (const FetchEntry& entry : bag.fetch())
        fetched.push_back(entry.path);
    std::ranges::sort(fetched);
    for (Bag::Missing& m : all)
        m.pending = std::ranges::binary_search(fetched, path_of(m));
    if (!all.empty()) log.mark_incomplete();
    return all;
}

std::vector<Bag::Index> find_unlisted(const Bag& bag, FindingsLog& log) {
    std::vector<Bag::Index> unlisted;
    const auto manifests =
        static_cast<std::size_t>(std::ranges::count_if(bag.manifests(), is_payload));
    if (manifests == 0) return unlisted;  // one finding for the want of a manifest is enough
    for (Bag::Index file = 0; file < bag.listing().size(); ++file) {
        const Listing::Entry entry = bag.listing()[file];
        if (entry.type != io::FileType::regular) continue;
        const std::size_t times = times_listed(bag, file);
        if (times == 0 && in_payload(entry.name)) unlisted.push_back(file);
        if (times > 0 && times < manifests && must_agree_on(bag, entry.name))
            tell_disagreement(bag, file, log);
    }
    if (!unlisted.empty()) log.mark_incomplete();
    return unlisted;
}

void check_fetch(const Bag& bag, FindingsLog& log) {
    std::vector<std::string_view> paths;
    for (const FetchEntry& entry : bag.fetch()) {
        paths.push_back(entry.path);
        const Bag::Index file = bag.listing().find(entry.path);
        if (file != Listing::none && entry.length && *entry.length != bag.listing()[file].size)
            log.add(
                found(fetch_malformed, Severity::warning, entry.path,
                      fmt::format("fetch.txt gives it {} bytes, but the file that is there has {}",
                                  text::grouped(*entry.length),
                                  text::grouped(bag.listing()[file].size))));
        std::vector<std::string> without;
        for (const Bag::Matched& m : bag.manifests())
            if (is_payload(m) && !m.manifest.torn() && !listed_by(m, bag.listing(), entry.path))
                without.push_back(m.manifest.file());
        if (!without.empty() && bag.rules().fetched_unlisted)
            log.add(found(fetch_malformed, *bag.rules().fetched_unlisted, shown_path(entry.path),
                          fmt::format("fetch.txt lists it, but {} {} not", listed(without),
                                      without.size() > 1 ? "do" : "does")));
    }
    std::ranges::sort(paths);
    const auto twice = std::ranges::adjacent_find(paths);
    if (twice != paths.end())
        log.add(found(fetch_malformed, Severity::warning, shown_path(*twice),
                      "fetch.txt lists it more than once"));
}

void check_oxum(const Bag& bag, FindingsLog& log) {
    if (!bag.rules().has_oxum) return;
    const auto values = bag.info().values("Payload-Oxum");
    if (values.size() != 1) return;
    const auto oxum = parse_oxum(values[0]);
    const Oxum there{bag.listing().payload_bytes(), bag.listing().payload_files()};
    // Files still to be fetched are counted by Payload-Oxum but not there.
    const bool pending = std::ranges::any_of(bag.missing(), &Bag::Missing::pending);
    if (!oxum || *oxum == there || pending) return;
    log.add(found(oxum_mismatch, std::string(bag.rules().metadata_file),
                  fmt::format("Payload-Oxum says {} bytes in {}; there are {} bytes in {}",
                              text::grouped(oxum->bytes), text::counted(oxum->files, "file"),
                              text::grouped(there.bytes), text::counted(there.files, "file"))));
}

}  // namespace glassine::bagit

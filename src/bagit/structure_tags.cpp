#include "glassine/bagit/path.h"
#include "glassine/base/text.h"
#include "structure.h"
#include "words.h"

#include <algorithm>
#include <set>

#include <fmt/format.h>

/// Which manifests there are, and what tag manifests list.
namespace glassine::bagit {
namespace {

using enum FindingKind;

std::vector<const Bag::Matched*> of_kind(const Bag& bag, ManifestKind kind) {
    std::vector<const Bag::Matched*> out;
    for (const Bag::Matched& m : bag.manifests())
        if (m.manifest.name().kind == kind) out.push_back(&m);
    return out;
}

void check_one(const Bag& bag, const Manifest& manifest, FindingsLog& log) {
    const ManifestName& name = manifest.name();
    if (!name.computable)
        log.add(found(algorithm_unknown, manifest.file(),
                      fmt::format("the digest “{}” is not known here: its checksums were not "
                                  "verified, so the bag cannot be called valid",
                                  excerpt(name.algorithm))));
    if (!name.canonical && bag.rules().manifest_name_form)
        log.add(found(manifest_malformed, *bag.rules().manifest_name_form, manifest.file(),
                      fmt::format("the algorithm in a manifest's name is written “{}”",
                                  excerpt(name.algorithm))));
    if (manifest.size() == 0 && !manifest.torn())
        log.add(
            found(standard_discouraged, Severity::warning, manifest.file(), "it lists nothing"));
}

void check_strength(const Bag& bag, FindingsLog& log) {
    const auto payload = of_kind(bag, ManifestKind::payload);
    const bool weak = !payload.empty() && std::ranges::all_of(payload, [](const auto* m) {
        const std::string& algorithm = m->manifest.name().algorithm;
        return algorithm == "md5" || algorithm == "sha1";
    });
    if (weak && bag.rules().weak_only)
        log.add(found(algorithm_weak, *bag.rules().weak_only, payload[0]->manifest.file(),
                      fmt::format("{} finds accidental damage but no longer resists forgery",
                                  algorithm_words(payload[0]->manifest.name().algorithm))));
}

void check_own_entries(const Bag& bag, const Bag::Matched& m, FindingsLog& log) {
    const Manifest& manifest = m.manifest;
    for (std::uint32_t e = 0; e < manifest.size(); ++e) {
        const std::string_view path = manifest[e].path;
        const bool payload = in_payload(path);
        // Only a name that begins like a manifest's is worth the look: tag manifests can be long.
        const auto name = path.starts_with("tagmanifest-") ? manifest_name(path) : std::nullopt;
        if (!payload && !name) continue;
        const bool itself = path == manifest.file();
        const Weight weight = itself ? Severity::damage : bag.rules().foreign_in_tag_manifest;
        if (!weight) continue;
        log.add(found(manifest_malformed, *weight, manifest.file(),
                      fmt::format("line {} lists {}: “{}”", manifest[e].line,
                                  payload  ? "a payload file"
                                  : itself ? "the tag manifest itself"
                                           : "a tag manifest",
                                  excerpt(path))));
    }
}

void check_payload_manifests_listed(const Bag& bag, const Bag::Matched& tag, FindingsLog& log) {
    const Weight weight = bag.rules().payload_manifest_unproven;
    if (!weight || tag.manifest.torn()) return;
    for (const Bag::Matched* payload : of_kind(bag, ManifestKind::payload)) {
        const Bag::Index file = bag.listing().find(payload->manifest.file());
        if (file != Listing::none && tag.entry_of[file] == 0)
            log.add(
                found(tag_unlisted, *weight, payload->manifest.file(),
                      fmt::format("{} does not list this payload manifest", tag.manifest.file())));
    }
}

/// Other tag files: some or all tag manifests leave them out (§2.2.1-4, and -1 for sets that
/// differ).
void check_tag_file_listed(const Bag& bag, Bag::Index file,
                           const std::vector<const Bag::Matched*>& tags, FindingsLog& log) {
    std::vector<std::string> with;
    std::vector<std::string> without;
    for (const Bag::Matched* tag : tags)
        (tag->entry_of[file] != 0 || tag->manifest.torn() ? with : without)
            .push_back(tag->manifest.file());
    if (without.empty()) return;
    const std::string name(bag.listing()[file].name);
    if (with.empty())
        log.add(found(tag_unlisted, *bag.rules().tag_file_unproven, name,
                      "no tag manifest lists it, so nothing proves it"));
    else
        log.add(found(
            manifests_disagree, *bag.rules().tag_file_unproven, name,
            fmt::format("{} {} it, {} {} not", listed(with), with.size() > 1 ? "list" : "lists",
                        listed(without), without.size() > 1 ? "do" : "does")));
}

void check_algorithms(const Bag& bag, FindingsLog& log) {
    std::set<std::string> payload;
    for (const auto* m : of_kind(bag, ManifestKind::payload))
        payload.insert(m->manifest.name().algorithm);
    if (payload.empty()) return;
    for (const auto* m : of_kind(bag, ManifestKind::tag))
        if (!payload.contains(m->manifest.name().algorithm) && bag.rules().tag_file_unproven)
            log.add(found(standard_discouraged, *bag.rules().tag_file_unproven, m->manifest.file(),
                          "no payload manifest uses its algorithm"));
}

}  // namespace

void check_manifests(const Bag& bag, FindingsLog& log) {
    if (of_kind(bag, ManifestKind::payload).empty())
        log.add(
            found(manifest_missing, "", "there is no payload manifest (manifest-ALGORITHM.txt)"));
    for (const Bag::Matched& m : bag.manifests())
        check_one(bag, m.manifest, log);
    std::set<std::pair<ManifestKind, std::string>> met;
    for (const Bag::Matched& m : bag.manifests())
        if (!met.emplace(m.manifest.name().kind, m.manifest.name().algorithm).second &&
            bag.rules().algorithm_twice)
            log.add(found(manifest_duplicate, *bag.rules().algorithm_twice, m.manifest.file(),
                          "another manifest has the same algorithm"));
    check_strength(bag, log);
    check_algorithms(bag, log);
}

void check_tag_manifests(const Bag& bag, FindingsLog& log) {
    const auto tags = of_kind(bag, ManifestKind::tag);
    if (tags.empty()) return;
    for (const Bag::Matched* tag : tags) {
        check_own_entries(bag, *tag, log);
        check_payload_manifests_listed(bag, *tag, log);
    }
    if (!bag.rules().tag_file_unproven) return;
    for (Bag::Index file = 0; file < bag.listing().size(); ++file) {
        const Listing::Entry entry = bag.listing()[file];
        if (entry.type != io::FileType::regular || in_payload(entry.name)) continue;
        if (!manifest_name(entry.name)) check_tag_file_listed(bag, file, tags, log);
    }
}

}  // namespace glassine::bagit

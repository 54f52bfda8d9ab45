#include "altered.h"

#include "glassine/bagit/path.h"
#include "glassine/base/text.h"
#include "words.h"

#include <algorithm>

#include <fmt/format.h>

namespace glassine::bagit {
namespace {

using enum FindingKind;

/// Digests kept to tell whose content a file holds; beyond that many the medium is past such
/// questions.
constexpr std::size_t most_values = 65'536;

}  // namespace

void Altered::compare(Bag::Index file, digest::Algorithm algorithm, const digest::Value& value) {
    const auto& manifests = bag_.manifests();
    for (std::uint32_t m = 0; m < manifests.size(); ++m) {
        const Bag::Matched& matched = manifests[m];
        if (matched.manifest.name().computable != algorithm || matched.entry_of[file] == 0)
            continue;
        const auto expected = matched.manifest[matched.entry_of[file] - 1].digest;
        if (expected.empty() || std::ranges::equal(expected, value.bytes())) continue;
        if (!agrees_with_any(matched, file, value)) note(file, m, algorithm, value);
    }
    for (const Bag::FileDigest& c : bag_.companions())
        if (c.file == file && c.algorithm == algorithm && !(c.value == value))
            note(file, companion, algorithm, value);
}

/// Listed twice with different checksums: the contradiction is told as such, not as damage to the
/// file.
bool Altered::agrees_with_any(const Bag::Matched& m, Bag::Index file,
                              const digest::Value& value) const {
    const auto first = std::ranges::lower_bound(m.again, std::pair(file, std::uint32_t{0}));
    for (auto at = first; at != m.again.end() && at->first == file; ++at)
        if (std::ranges::equal(m.manifest[at->second].digest, value.bytes())) return true;
    return false;
}

void Altered::note(Bag::Index file, std::uint32_t manifest, digest::Algorithm algorithm,
                   const digest::Value& value) {
    std::uint32_t kept = none;
    if (contents_.size() < most_values) {
        kept = static_cast<std::uint32_t>(contents_.size());
        contents_.push_back({algorithm, value, {}});
    }
    mismatches_.push_back({file, manifest, algorithm, kept});
}

/// Looks through the manifests for entries that have the digest of an altered file: its content
/// belongs to another name.
void Altered::find_owners() {
    std::vector<Content*> wanted;
    for (Content& content : contents_)
        wanted.push_back(&content);
    const auto order = [](const Content* a, const Content* b) {
        return before(a->key(), b->key());
    };
    std::ranges::sort(wanted, order);
    // Of many files with the same content (zeroed ones) only the first is looked for.
    const auto doubles =
        std::unique(wanted.begin(), wanted.end(),
                    [](const Content* a, const Content* b) { return a->value == b->value; });
    wanted.erase(doubles, wanted.end());
    for (const Bag::Matched& m : bag_.manifests()) {
        for (std::uint32_t e = 0; e < m.manifest.size(); ++e) {
            const Manifest::Entry entry = m.manifest[e];
            if (entry.digest.empty()) continue;
            const DigestKey key(*m.manifest.name().computable, entry.digest);
            const auto at = std::ranges::lower_bound(wanted, key, before,
                                                     [](const Content* c) { return c->key(); });
            if (at != wanted.end() && !before(key, (*at)->key())) (*at)->owner = entry.path;
        }
    }
}

/// Which manifests are contradicted and which confirmed.
std::string Altered::against(std::span<const Mismatch> of_one_file) const {
    std::vector<std::string> wrong;
    std::vector<std::string> right;
    const Bag::Index file = of_one_file[0].file;
    for (std::uint32_t m = 0; m < bag_.manifests().size(); ++m) {
        const Bag::Matched& matched = bag_.manifests()[m];
        if (matched.entry_of[file] == 0 || !matched.manifest.name().computable) continue;
        const bool differs =
            std::ranges::find(of_one_file, m, &Mismatch::manifest) != of_one_file.end();
        (differs ? wrong : right).push_back(matched.manifest.file());
    }
    if (wrong.empty())
        return fmt::format("its {} is not the one in the checksum file beside it",
                           algorithm_words(digest::name(of_one_file[0].algorithm)));
    std::string out =
        fmt::format("its {} is not the one in {}",
                    wrong.size() == 1 ? algorithm_words(digest::name(of_one_file[0].algorithm))
                                      : std::string("content"),
                    listed(wrong));
    if (!right.empty())
        out += fmt::format(", though {} agrees with it: the manifests contradict each other",
                           listed(right));
    return out;
}

/// Payload-Oxum counts all payload bytes: when a single file is altered and all others are there,
/// the difference is that file's.
std::string Altered::size_hint(Bag::Index file) const {
    const Listing& listing = bag_.listing();
    if (listing[file].size == 0) return "; it is empty";
    const auto value = bag_.info().value("Payload-Oxum");
    const auto oxum = value ? parse_oxum(*value) : std::nullopt;
    if (!only_one_ || !oxum || oxum->files != listing.payload_files() ||
        !in_payload(listing[file].name))
        return {};
    if (oxum->bytes == listing.payload_bytes())
        return "; it has the size that it had when it was bagged";
    const bool shorter = oxum->bytes > listing.payload_bytes();
    const std::uint64_t difference =
        shorter ? oxum->bytes - listing.payload_bytes() : listing.payload_bytes() - oxum->bytes;
    return fmt::format("; by Payload-Oxum it is {} {} than when it was bagged",
                       text::counted(difference, "byte"), shorter ? "shorter" : "longer");
}

std::string Altered::detail(std::span<const Mismatch> of_one_file) const {
    const Bag::Index file = of_one_file[0].file;
    std::string out = against(of_one_file);
    const bool empty = bag_.listing()[file].size == 0;
    if (of_one_file[0].content != none && !empty) {
        const std::string_view owner = contents_[of_one_file[0].content].owner;
        if (!owner.empty() && owner != bag_.listing()[file].name)
            out += fmt::format("; it holds what belongs to “{}”", excerpt(owner));
    }
    return out + size_hint(file);
}

void Altered::tell(const std::function<void(Finding)>& report) {
    if (mismatches_.empty()) return;
    std::ranges::stable_sort(mismatches_, {}, &Mismatch::file);
    find_owners();
    only_one_ = mismatches_.front().file == mismatches_.back().file && bag_.missing().empty() &&
                bag_.unlisted().empty();
    for (std::size_t i = 0; i < mismatches_.size();) {
        std::size_t end = i;
        while (end < mismatches_.size() && mismatches_[end].file == mismatches_[i].file)
            ++end;
        const std::string name(bag_.listing()[mismatches_[i].file].name);
        report(found(in_payload(name) ? payload_altered : tag_altered, name,
                     detail(std::span(mismatches_).subspan(i, end - i))));
        i = end;
    }
}

}  // namespace glassine::bagit

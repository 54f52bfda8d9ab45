#include "moved.h"

#include <algorithm>

namespace glassine::bagit {
namespace {

std::string_view last_part(std::string_view path) {
    return path.substr(path.rfind('/') + 1);
}

/// Candidates that are looked at for one of the same name.
constexpr std::size_t most_candidates = 64;

}  // namespace

Moved::Moved(const Bag& bag) : bag_(bag) {}

void Moved::met(Bag::Index file, digest::Algorithm algorithm, const digest::Value& value) {
    if (!std::ranges::binary_search(bag_.unlisted(), file)) return;
    contents_.push_back({algorithm, value, file, 0});
    sorted_ = false;
}

void Moved::sort() {
    if (sorted_) return;
    used_.resize(bag_.listing().size());
    std::ranges::sort(contents_, [](const Content& a, const Content& b) {
        if (before(a.key(), b.key())) return true;
        return !before(b.key(), a.key()) && a.file < b.file;
    });
    sorted_ = true;
}

Bag::Index Moved::find(const Bag::Missing& missing) {
    sort();
    const Manifest& manifest = bag_.manifests()[missing.manifest].manifest;
    const Manifest::Entry entry = manifest[missing.entry];
    if (entry.digest.empty() || contents_.empty()) return Listing::none;
    const DigestKey wanted(*manifest.name().computable, entry.digest);
    const auto begin = std::ranges::lower_bound(contents_, wanted, before, &Content::key);
    const auto end = std::ranges::upper_bound(contents_, wanted, before, &Content::key);
    if (begin == end) return Listing::none;
    // Many files may have the same content: those given out are skipped for good.
    const auto count = static_cast<std::size_t>(end - begin);
    std::size_t& skip = begin->given_out;
    while (skip < count && used_[begin[static_cast<std::ptrdiff_t>(skip)].file])
        ++skip;
    Bag::Index best = Listing::none;
    for (std::size_t i = skip; i < std::min(count, skip + most_candidates); ++i) {
        const Bag::Index file = begin[static_cast<std::ptrdiff_t>(i)].file;
        if (used_[file]) continue;
        const bool same_name = last_part(bag_.listing()[file].name) == last_part(entry.path);
        if (best == Listing::none || same_name) best = file;
        if (same_name) break;
    }
    if (best != Listing::none) used_[best] = true;
    return best;
}

bool Moved::used(Bag::Index file) const {
    return file < used_.size() && used_[file];
}

}  // namespace glassine::bagit

#include "glassine/bagit/bag.h"

#include <algorithm>

namespace glassine::bagit {

std::optional<digest::Value> Bag::expected(Index file, digest::Algorithm algorithm) const {
    for (const Matched& m : manifests_) {
        if (m.manifest.name().computable != algorithm || m.entry_of[file] == 0) continue;
        const Manifest::Entry entry = m.manifest[m.entry_of[file] - 1];
        if (!entry.digest.empty()) return digest::Value(entry.digest);
    }
    for (const FileDigest& companion : companions_)
        if (companion.file == file && companion.algorithm == algorithm) return companion.value;
    return std::nullopt;
}

std::vector<digest::Algorithm> Bag::algorithms(Index file) const {
    std::vector<digest::Algorithm> out;
    for (const digest::Algorithm algorithm : digest::all_algorithms)
        if (expected(file, algorithm)) out.push_back(algorithm);
    return out;
}

std::vector<digest::Algorithm> Bag::algorithms() const {
    std::vector<digest::Algorithm> out;
    for (const digest::Algorithm algorithm : digest::all_algorithms) {
        const bool used =
            std::ranges::any_of(
                manifests_,
                [&](const Matched& m) { return m.manifest.name().computable == algorithm; }) ||
            std::ranges::find(companions_, algorithm, &FileDigest::algorithm) != companions_.end();
        if (used) out.push_back(algorithm);
    }
    return out;
}

bool Bag::torn() const {
    return std::ranges::any_of(manifests_, [](const Matched& m) {
        return m.manifest.name().kind == ManifestKind::payload && m.manifest.torn();
    });
}

}  // namespace glassine::bagit

#include "journeys/mend_proofs.h"

#include "glassine/bagit/manifest.h"

#include <memory>
#include <span>

namespace glassine::journeys {

void Proofs::keep(std::string_view name, digest::Algorithm algorithm,
                  std::span<const std::byte> digest) {
    if (digest.empty()) return;
    Proof& proof = proofs_[std::string(name)];
    if (proof.digest.bytes().size() < digest.size()) proof = {algorithm, digest::Value(digest)};
}

void Proofs::add(const bagit::Manifest& manifest) {
    const auto algorithm = manifest.name().computable;
    if (!algorithm) return;
    for (std::uint32_t i = 0; i < manifest.size(); ++i)
        keep(manifest[i].path, *algorithm, manifest[i].digest);
}

void Proofs::add(const std::string& name, const Proof& proof) {
    keep(name, proof.algorithm, proof.digest.bytes());
}

void Proofs::add(const bagit::Bag& bag) {
    for (const auto& matched : bag.manifests())
        add(matched.manifest);
}

void Proofs::add_as_found(const bagit::Bag& bag) {
    for (const auto& matched : bag.manifests()) {
        const auto algorithm = matched.manifest.name().computable;
        if (!algorithm) continue;
        for (bagit::Bag::Index file = 0; file < bag.listing().size(); ++file) {
            const std::uint32_t entry = matched.entry_of[file];
            if (entry == 0) continue;
            keep(bag.listing()[file].name, *algorithm, matched.manifest[entry - 1].digest);
        }
    }
}

const Proof* Proofs::find(const std::string& name) const {
    const auto at = proofs_.find(name);
    return at == proofs_.end() ? nullptr : &at->second;
}

std::optional<digest::Value> digest_of_file(io::FileSystem& files, const io::Path& path,
                                            digest::Algorithm algorithm) {
    constexpr std::size_t block = 1u << 20;
    try {
        const auto file = files.open(path, io::Cache::use);
        digest::Hasher hasher(algorithm);
        std::vector<std::byte> memory(block);
        for (std::uint64_t offset = 0;;) {
            const std::size_t n = file->read(offset, memory);
            if (n == 0) return hasher.finish();
            hasher.update(std::span(memory.data(), n));
            offset += n;
        }
    } catch (const Error&) {
        // Whatever the reason: this file proves nothing and can serve as no source.
        return std::nullopt;
    }
}

std::optional<std::string> tag_manifest_from(io::FileSystem& files, const io::Path& bag,
                                             const std::set<std::string>& tag_files) {
    std::vector<bagit::ManifestLine> lines;
    for (const std::string& name : tag_files) {
        const auto digest = digest_of_file(files, bag / name, digest::Algorithm::sha512);
        if (!digest) return std::nullopt;
        lines.push_back({name, *digest});
    }
    return bagit::manifest_text(std::move(lines));
}

}  // namespace glassine::journeys

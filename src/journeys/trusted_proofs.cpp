#include "journeys/trusted_proofs.h"

#include "glassine/bagit/check.h"
#include "journeys/bag_reading.h"
#include "journeys/right_bytes.h"

#include <map>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

using bagit::ManifestKind;

/// Keeps small files in memory.
class InMemory : public flow::Receiver {
  public:
    std::unique_ptr<File> create(const flow::Item& item) override {
        return std::make_unique<Keeping>(contents[item.name]);
    }
    std::map<std::string, std::string> contents;  ///< empty for those that were not kept

  private:
    class Keeping : public File {
      public:
        explicit Keeping(std::string& into) : into_(into) {}
        void append(std::span<const std::byte> bytes) override {
            text_.append(reinterpret_cast<const char*>(bytes.data()), bytes.size());
        }
        void keep() override { into_ = std::move(text_); }

      private:
        std::string& into_;
        std::string text_;
    };
};

bool is_payload_manifest(const std::string& name) {
    const auto manifest = bagit::manifest_name(name);
    return manifest && manifest->kind == ManifestKind::payload;
}

void parse_into(Proofs& proofs, const bagit::Bag& bag, const std::string& file,
                const std::string& content) {
    const auto name = bagit::manifest_name(file);
    if (!name || content.empty()) return;
    bagit::Manifest manifest(file, *name);
    bagit::ManifestParser parser(manifest, bag.declaration().encoding, bag.rules(),
                                 [](const Finding&) {});
    parser.feed(std::as_bytes(std::span(content)));
    parser.finish();
    proofs.add(manifest);
}

/// Whether the manifests of another copy can stand in for those of the bag.
bool take_from(const Context& context, const io::Path& other, Proofs& proofs) {
    try {
        const bagit::Bag bag = load_bag(context, other);
        if (bag.torn() || !damaged_tag_files(bag).empty()) return false;
        proofs.add(bag);
        return true;
    } catch (const Error& error) {
        if (error.cause() == Cause::interrupted) throw;
        return false;
    }
}

}  // namespace

std::set<std::string> damaged_tag_files(const bagit::Bag& bag) {
    std::set<std::string> damaged;
    for (const bagit::Bag::FileDigest& seen : bag.tag_digests()) {
        const auto expected = bag.expected(seen.file, seen.algorithm);
        if (expected && *expected != seen.value) damaged.emplace(bag.listing()[seen.file].name);
    }
    for (const bagit::Bag::Missing& missing : bag.missing()) {
        const bagit::Manifest& manifest = bag.manifests()[missing.manifest].manifest;
        if (manifest.name().kind == ManifestKind::tag)
            damaged.emplace(manifest[missing.entry].path);
    }
    return damaged;
}

TrustedProofs trusted_proofs(const Context& context, const io::Path& path, const bagit::Bag& bag,
                             const std::vector<io::Path>& others) {
    TrustedProofs trusted;
    std::set<std::string> damaged;
    for (const std::string& name : damaged_tag_files(bag))
        if (is_payload_manifest(name)) damaged.insert(name);
    if (damaged.empty() && !bag.torn()) {
        trusted.proofs.add(bag);
        trusted.proofs.add_as_found(bag);
        return trusted;
    }
    Proofs by_tags;
    for (const auto& matched : bag.manifests())
        if (matched.manifest.name().kind == ManifestKind::tag) by_tags.add(matched.manifest);
    InMemory memory;
    ProvenFiles target(memory, by_tags, [](const std::string& name) { return name; });
    RightBytes(context, path, others).bring(damaged, target);
    for (const std::string& name : damaged) {
        const bool healed = target.has(name);
        if (healed) parse_into(trusted.proofs, bag, name, memory.contents[name]);
        trusted.findings.push_back(found(
            FindingKind::tag_altered, Severity::warning, name,
            healed ? "it is damaged in this copy; what it said was put together again in memory"
                   : "it is damaged in this copy"));
    }
    if (target.files() > 0) {
        for (const auto& [name, proof] : by_tags.all())
            trusted.proofs.add(name, proof);
        return trusted;
    }
    for (const io::Path& other : others)
        if (take_from(context, other, trusted.proofs)) {
            trusted.findings.push_back(
                found(FindingKind::tag_altered, Severity::note, "",
                      fmt::format("files are proven by the manifests of {}", other.string())));
            return trusted;
        }
    trusted.proofs.add(bag);
    trusted.proofs.add_as_found(bag);
    return trusted;
}

}  // namespace glassine::journeys

#include "journeys/sealed_tags.h"

#include "glassine/bagit/check.h"

#include <utility>

namespace glassine::journeys {

SealedTags::SealedTags(const Context& context, const io::Path& folder, const shelf::Facts& facts) {
    if (facts.bags.empty()) return;
    const io::Path root = context.files.resolve(folder);
    for (const io::Path& bag :
         bagit::find_bags(context.files, root, [](const std::string&, const Error&) {
             // Whoever reads the medium tells what cannot be looked at.
         }))
        add(context, bag, facts);
}

void SealedTags::add(const Context& context, const io::Path& folder, const shelf::Facts& facts) {
    flow::Options flow;
    flow.resources = context.resources;
    bagit::LoadOptions load;
    load.digests = false;
    const bagit::Bag bag = bagit::load_folder(context.files, folder, load, flow);
    if (!bag.seal()) return;
    const std::string name = folder.filename().string();
    shelf::Held held{name + ": a tag file", name, false, {}};
    for (const shelf::BagFacts& known : facts.bags) {
        if (known.name != name) continue;
        for (const shelf::CopyFacts& copy : known.copies) {
            const shelf::VolumeFacts* volume = facts.volume(copy.volume);
            if (volume == nullptr || copy.seal != *bag.seal()) continue;
            held.copies.push_back({copy.volume, volume->name(), volume->identity.place,
                                   volume->identity.purchase, copy.state == shelf::CopyState::whole,
                                   copy.proven});
        }
    }
    if (held.copies.empty()) return;
    held_[*bag.seal()].push_back(held);
    const std::string tag_manifest =
        bagit::manifest_file(bagit::ManifestKind::tag, digest::Algorithm::sha512);
    for (const bagit::Bag::Matched& matched : bag.manifests()) {
        if (matched.manifest.file() != tag_manifest) continue;
        for (std::uint32_t i = 0; i < matched.manifest.size(); ++i)
            if (const auto digest = matched.manifest[i].digest; !digest.empty())
                held_[digest::Value(digest).hex()].push_back(held);
    }
}

std::vector<shelf::Held> SealedTags::find(const digest::Value& content) {
    const auto known = held_.find(content.hex());
    return known == held_.end() ? std::vector<shelf::Held>() : known->second;
}

}  // namespace glassine::journeys

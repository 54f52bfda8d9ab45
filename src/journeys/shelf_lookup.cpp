#include "glassine/io/files.h"
#include "glassine/io/mounts.h"
#include "journeys/places.h"
#include "journeys/shelf_records.h"

#include <algorithm>
#include <array>
#include <tuple>
#include <utility>

#include <fmt/format.h>

/// The asking half of `ShelfRecords`, and the opening of the register.
namespace glassine::journeys {

using shelf::Register;
using shelf::RegisterState;

void ShelfRecords::create_register() {
    const io::Path& file = context_.register_file;
    if (file.has_parent_path()) io::make_directories(context_.files, file.parent_path());
    try {
        Register::create(context_.files, file);
    } catch (const Error& error) {
        // Another program was quicker: theirs is as good.
        if (error.cause() != Cause::exists) throw;
        return;
    }
    tell(found(FindingKind::register_new, file.string(),
               "there was no register yet, a new one was begun; what was sealed before is taken "
               "in with `glassine shelf scan PATH`"));
}

Register* ShelfRecords::open(bool create) {
    if (register_) return &*register_;
    if (unusable_ || context_.register_file.empty()) return nullptr;
    try {
        if (!context_.files.find(context_.register_file)) {
            if (!create) return nullptr;
            create_register();
        }
        register_.emplace(context_.files, context_.register_file);
        return &*register_;
    } catch (const Error& error) {
        unusable_ = true;
        tell(found(FindingKind::not_recorded, context_.register_file.string(), error.sentence()));
        return nullptr;
    }
}

Register* ShelfRecords::register_if_any() {
    return open(false);
}

const shelf::Facts& ShelfRecords::facts() {
    if (facts_) return *facts_;
    facts_.emplace();
    try {
        if (Register* books = open(false)) facts_ = books->facts();
    } catch (const Error& error) {
        unusable_ = true;
        register_.reset();
        tell(found(FindingKind::not_recorded, context_.register_file.string(), error.sentence()));
    }
    return *facts_;
}

std::optional<shelf::FoundVolume> ShelfRecords::look_at(const io::Path& root,
                                                        const std::string& id) {
    try {
        auto volume = shelf::volume_at(context_.files, root);
        if (volume && volume->identity.id == id) return volume;
    } catch (const Error&) {
        // A place that cannot be looked at is no place where the volume is.
        return std::nullopt;
    }
    return std::nullopt;
}

std::optional<shelf::FoundVolume> ShelfRecords::connected(const std::string& id) {
    const shelf::VolumeFacts* wanted = facts().volume(id);
    if (wanted == nullptr) return std::nullopt;
    if (auto found_there = look_at(wanted->root, id)) return found_there;
    // Mounted elsewhere: beside the places where volumes stood, or wherever media are mounted.
    std::set<io::Path> places;
    std::set<io::Path> above;
    for (const shelf::VolumeFacts& volume : facts().volumes)
        if (!volume.root.empty()) above.insert(io::Path(volume.root).parent_path());
    for (const io::Path& folder : above) {
        try {
            for (const io::DirectoryEntry& entry : context_.files.list(folder))
                if (entry.type == io::FileType::directory) places.insert(folder / entry.name);
        } catch (const Error&) {
            continue;
        }
    }
    for (io::Path& mounted : io::mount_points())
        places.insert(std::move(mounted));
    for (const io::Path& place : places)
        if (auto found_there = look_at(place, id)) return found_there;
    return std::nullopt;
}

std::vector<shelf::FoundVolume> ShelfRecords::connected_volumes() {
    std::vector<shelf::FoundVolume> out;
    for (const shelf::VolumeFacts& volume : std::vector(facts().volumes))
        if (auto there = connected(volume.identity.id)) out.push_back(std::move(*there));
    return out;
}

std::vector<KnownCopy> ShelfRecords::copies_of(std::string_view bag, std::string_view seal) {
    std::vector<KnownCopy> copies;
    std::map<std::string, std::optional<shelf::FoundVolume>> connected_ones;
    for (const shelf::BagFacts& known : facts().bags) {
        if (known.name != bag) continue;
        for (const shelf::CopyFacts& copy : known.copies) {
            const shelf::VolumeFacts* volume = facts().volume(copy.volume);
            if (!copy.is_there() || volume == nullptr || (!seal.empty() && copy.seal != seal))
                continue;
            auto at = connected_ones.find(copy.volume);
            if (at == connected_ones.end())
                at = connected_ones.emplace(copy.volume, connected(copy.volume)).first;
            KnownCopy out{known.name, copy, volume->identity, std::nullopt};
            if (at->second && context_.files.find(at->second->root / copy.path))
                out.stands = at->second->root / copy.path;
            copies.push_back(std::move(out));
        }
    }
    std::ranges::stable_sort(copies, [](const KnownCopy& a, const KnownCopy& b) {
        const auto key = [](const KnownCopy& c) {
            return std::tuple(c.stands.has_value(), c.facts.state == shelf::CopyState::whole,
                              c.facts.counts(), !c.facts.packed, c.facts.proven);
        };
        return key(a) > key(b);
    });
    return copies;
}

bool ShelfRecords::still_there(const io::Path& bag) {
    try {
        const shelf::FoundVolume* volume = volume_of(context_.files.resolve(bag));
        if (volume == nullptr) {
            // A store that does not answer fails here as well; a folder tells nothing.
            if (is_in_store(bag)) context_.files.find(bag);
            return true;
        }
        return look_at(volume->root, volume->identity.id).has_value();
    } catch (const Error&) {
        return false;
    }
}

std::optional<shelf::SealVerdict> ShelfRecords::judge_seal(const io::Path& bag,
                                                           const std::string& name,
                                                           const std::string& seal) try {
    if (context_.register_file.empty()) return std::nullopt;
    const io::Path resolved = context_.files.resolve(bag);
    Register* books = open(false);
    if (books == nullptr) return std::nullopt;
    const auto witnesses = books->seal_witnesses(name);
    if (witnesses.empty()) return std::nullopt;
    const shelf::FoundVolume* volume = volume_of(resolved);
    return shelf::judge_seal(witnesses, seal, volume == nullptr ? "" : volume->identity.id);
} catch (const Error& error) {
    tell(found(FindingKind::not_recorded, bag.string(), error.sentence()));
    return std::nullopt;
}

}  // namespace glassine::journeys

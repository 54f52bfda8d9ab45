#include "journeys/store_checksums.h"

#include "glassine/io/files.h"
#include "journeys/places.h"

#include <algorithm>
#include <utility>

namespace glassine::journeys {
namespace {

constexpr const char* exchanged_words =
    "the store's checksum of it is not the one that it had when it was last proven: another object "
    "stands there";
constexpr const char* to_be_read = "; an audit without --quick reads it";

/// Where a copy lies on a volume of the shelf in a store.
struct InStore {
    std::string volume;
    std::string path;
    io::Path resolved;
};
std::optional<InStore> place_in_store(const Context& context, ShelfRecords& records,
                                      const io::Path& copy) {
    if (context.register_file.empty() || !is_in_store(copy)) return std::nullopt;
    io::Path resolved = context.files.resolve(copy);
    const shelf::FoundVolume* volume = records.volume_of(resolved);
    if (volume == nullptr) return std::nullopt;
    std::string path = volume->relative(resolved);
    return InStore{volume->identity.id, std::move(path), std::move(resolved)};
}

}  // namespace

StoreChecksums::StoreChecksums(const Context& context, ShelfRecords& records, const io::Path& copy)
    : context_(context), records_(records) {
    auto place = place_in_store(context, records, copy);
    shelf::Register* books = place ? records.register_if_any() : nullptr;
    if (books == nullptr) return;
    noted_ = books->object_checksums(place->volume, place->path);
    volume_ = std::move(place->volume);
    below_ = std::move(place->path);
    copy_ = std::move(place->resolved);
}

std::string StoreChecksums::path_of(std::string_view name) const {
    return name.empty() ? below_ : below_ + "/" + std::string(name);
}

void StoreChecksums::look_at(std::string_view name, const io::Path& path) {
    std::string checksum = context_.files.store_checksum(path);
    if (checksum.empty()) return;
    if (const auto before = noted_.find(path_of(name)); before != noted_.end()) {
        if (before->second == checksum)
            ++same_;
        else
            exchanged_.emplace(name);
    }
    now_.insert_or_assign(std::string(name), std::move(checksum));
}

void StoreChecksums::look(const bagit::Bag& bag) {
    if (volume_.empty()) return;
    const bagit::Listing& listing = bag.listing();
    for (bagit::Listing::Index i = 0; i < listing.size(); ++i)
        if (listing.is_file(i)) look_at(listing[i].name, copy_ / std::string(listing[i].name));
}

void StoreChecksums::look_at_archive() {
    if (volume_.empty()) return;
    // One that was named itself was not come across in a listing.
    if (context_.files.store_checksum(copy_).empty()) context_.files.list(copy_.parent_path());
    look_at("", copy_);
}

std::vector<Finding> StoreChecksums::findings() const {
    std::vector<Finding> all;
    for (const std::string& name : exchanged_)
        all.push_back(found(FindingKind::object_exchanged, name,
                            std::string(exchanged_words).append(to_be_read)));
    return all;
}

void StoreChecksums::all_proven() {
    for (const auto& [name, checksum] : now_)
        proven_.insert(name);
}

void StoreChecksums::write() {
    shelf::Register* books = volume_.empty() ? nullptr : records_.register_if_any();
    if (books == nullptr) return;
    shelf::Register::ObjectChecksums fresh;
    for (const std::string& name : proven_) {
        const auto now = now_.find(name);
        if (now == now_.end() || !written_.insert(name).second) continue;
        const auto before = noted_.find(path_of(name));
        if (before == noted_.end() || before->second != now->second)
            fresh.emplace(path_of(name), now->second);
    }
    try {
        if (!fresh.empty()) books->note_object_checksums(volume_, fresh);
    } catch (const Error&) {
        // Then the next audit does not know them, or tells once more what this one has told.
        return;
    }
}

void StoreChecksums::conclude(bool quick, report::AuditedBag& bag) const {
    if (same_ + exchanged_.size() > 0) bag.store_checksums = {same_, exchanged_.size()};
    if (quick) return;  // what a look has found is among its findings
    for (Finding& f : findings()) {
        const bool damaged = std::ranges::any_of(bag.report.findings, [&](const Finding& told) {
            return told.path == f.path && told.severity == Severity::damage;
        });
        if (damaged) continue;
        if (proven_.contains(f.path)) {
            f.severity = Severity::note;
            f.detail = std::string(exchanged_words).append(", with the right content");
        }
        bag.report.findings.push_back(std::move(f));
    }
    sort_findings(bag.report.findings);
}

void note_store_checksums(const Context& context, ShelfRecords& records, const io::Path& copy) {
    const auto place = place_in_store(context, records, copy);
    shelf::Register* books = place ? records.register_if_any() : nullptr;
    if (books == nullptr) return;
    shelf::Register::ObjectChecksums now;
    const auto note = [&](const std::string& path, const io::Path& object) {
        if (std::string checksum = context.files.store_checksum(object); !checksum.empty())
            now.emplace(path, std::move(checksum));
    };
    if (context.files.info(place->resolved).type == io::FileType::regular) {
        context.files.list(place->resolved.parent_path());
        note(place->path, place->resolved);
    } else {
        io::walk(
            context.files, place->resolved,
            [&](const io::WalkEntry& entry) {
                if (entry.type == io::FileType::regular)
                    note(place->path + "/" + entry.path, place->resolved / entry.path);
            },
            [](const std::string&, const Error&) {}, [](const io::WalkEntry&) { return true; });
    }
    books->forget_object_checksums(place->volume, place->path);
    books->note_object_checksums(place->volume, now);
}

void forget_store_checksums(const Context& context, ShelfRecords& records, const io::Path& copy) {
    const auto place = place_in_store(context, records, copy);
    shelf::Register* books = place ? records.register_if_any() : nullptr;
    if (books != nullptr) books->forget_object_checksums(place->volume, place->path);
}

}  // namespace glassine::journeys

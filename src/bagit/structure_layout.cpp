#include "glassine/bagit/path.h"
#include "glassine/base/text.h"
#include "keyed_hash.h"
#include "structure.h"
#include "words.h"

#include <algorithm>

#include <fmt/format.h>

/// What stands in the base directory, and how things are named.
namespace glassine::bagit {
namespace {

using enum FindingKind;

bool top_level(std::string_view name) {
    return name.find('/') == std::string_view::npos;
}

/// A name of the standard that stands there in other case, as file systems that fold names leave
/// it.
std::string case_hint(const Listing& listing, std::string_view name) {
    const Bag::Index other = listing.find_ignoring_case(name);
    if (other == Listing::none || listing[other].name == name) return {};
    return fmt::format("; “{}” is there, but the case of the name counts", listing[other].name);
}

void check_data_folder(const Bag& bag, FindingsLog& log) {
    const Listing& listing = bag.listing();
    const Bag::Index data = listing.find(payload_directory);
    if (data != Listing::none && listing[data].type == io::FileType::directory) return;
    // An archive may hold the files of a folder without an entry for the folder itself.
    if (data == Listing::none && listing.payload_files() > 0) return;
    const bool other = data != Listing::none;
    log.add(found(payload_directory_missing, std::string(payload_directory),
                  other ? "what stands there is no folder"
                        : "there is no folder data/" + case_hint(listing, payload_directory)));
}

void check_top_entry(const Bag& bag, const Listing::Entry& entry, FindingsLog& log) {
    const std::string name(entry.name);
    const bool folder = entry.type == io::FileType::directory;
    const bool reserved = name == declaration_file || name == bag.rules().metadata_file ||
                          name == fetch_file || manifest_name(name);
    if (folder && reserved)
        log.add(found(tag_malformed, name, "a folder stands where the standard has a file"));
    else if (folder && name != payload_directory && bag.rules().tag_directory)
        log.add(found(standard_discouraged, *bag.rules().tag_directory, name,
                      fmt::format("BagIt {} knows no folder beside data/", bag.rules().version)));
    if (entry.type == io::FileType::regular && !name.ends_with(".txt") &&
        bag.rules().tag_name_not_txt)
        log.add(found(standard_discouraged, *bag.rules().tag_name_not_txt, name,
                      fmt::format("in the last draft of BagIt {} names of tag files end in .txt",
                                  bag.rules().version)));
}

std::string_view special_word(io::FileType type) {
    switch (type) {
        case io::FileType::symlink:
            return "a symbolic link; it was not followed";
        case io::FileType::fifo:
            return "a pipe; it was not opened";
        case io::FileType::socket:
            return "a socket; it was not opened";
        case io::FileType::block_device:
        case io::FileType::character_device:
            return "a device; it was not opened";
        default:
            return "no ordinary file; it was not opened";
    }
}

void check_portable(const Listing::Entry& entry, FindingsLog& log) {
    const std::size_t slash = entry.name.rfind('/');
    const std::string_view part =
        slash == std::string_view::npos ? entry.name : entry.name.substr(slash + 1);
    if (const auto why = not_portable(part))
        log.add(found(name_not_portable, std::string(entry.name),
                      fmt::format("not every file system can keep this name: {}", *why)));
    else if (entry.name.size() > 255 && path_units(entry.name) > 255)
        log.add(found(name_not_portable, std::string(entry.name),
                      "Windows takes paths of at most 255 characters"));
}

/// Names that are the same once case and normalisation are taken away.
void check_collisions(const Listing& listing, FindingsLog& log) {
    struct Key {
        std::uint64_t hash;
        Bag::Index index;
    };
    std::vector<Key> keys;
    keys.reserve(listing.size());
    for (Bag::Index i = 0; i < listing.size(); ++i)
        keys.push_back({keyed_hash(text::fold_case(listing[i].name)), i});
    std::ranges::sort(keys, [](const Key& a, const Key& b) {
        return a.hash != b.hash ? a.hash < b.hash : a.index < b.index;
    });
    for (std::size_t i = 1; i < keys.size(); ++i) {
        if (keys[i].hash != keys[i - 1].hash) continue;
        const std::string_view a = listing[keys[i - 1].index].name;
        const std::string_view b = listing[keys[i].index].name;
        if (a == b || text::fold_case(a) != text::fold_case(b)) continue;
        log.add(
            found(name_collision, std::string(b),
                  fmt::format("it differs from “{}” only in case or Unicode normalisation", a)));
    }
}

}  // namespace

void check_layout(const Bag& bag, FindingsLog& log) {
    const Bag::Index declaration = bag.listing().find(declaration_file);
    if (declaration == Listing::none)
        log.add(found(declaration_missing, std::string(declaration_file),
                      "there is no bagit.txt; judged by the rules of 1.0" +
                          case_hint(bag.listing(), declaration_file)));
    check_data_folder(bag, log);
    for (Bag::Index i = 0; i < bag.listing().size(); ++i)
        if (const Listing::Entry entry = bag.listing()[i]; top_level(entry.name))
            check_top_entry(bag, entry, log);
}

void check_names(const Listing& listing, FindingsLog& log) {
    for (Bag::Index i = 0; i < listing.size(); ++i) {
        const Listing::Entry entry = listing[i];
        if (entry.type != io::FileType::regular && entry.type != io::FileType::directory)
            log.add(found(special_file, std::string(entry.name),
                          std::string("it is ") + std::string(special_word(entry.type))));
        check_portable(entry, log);
    }
    check_collisions(listing, log);
}

}  // namespace glassine::bagit

#include "glassine/recovery/recovery_set.h"

#include "glassine/base/error.h"
#include "recovery/collection.h"

#include <algorithm>
#include <set>

#include <fmt/format.h>

namespace glassine::recovery {

namespace {

constexpr std::size_t checks_kept = std::size_t{8}
                                    << 20;  ///< check values (64 MiB) kept for windows not in use

/// All that a folder holds under names of recovery files.
std::set<std::string> recovery_files_in(io::FileSystem& files, const io::Path& bag) {
    std::set<std::string> names;
    try {
        for (const auto& entry : files.list(bag / "recovery")) {
            std::string name = "recovery/" + entry.name;
            if (is_file_name(name)) names.insert(std::move(name));
        }
    } catch (const Error&) {
        // No folder, or none that can be listed: its files count as lost.
    }
    return names;
}

}  // namespace

/// What is remembered of one recovery file.
struct RecoverySet::FileState {
    std::string name;
    Identity identity;
    std::vector<Extent> extents;  ///< moved out when the window is adopted
    bool own = false;
    bool complete_index = false;  ///< of the bag's own file
    bool inspected = false;
    std::uint64_t index_packets_lost = 0;
    std::uint64_t repair_blocks_lost = 0;
    bool wrong_size = false;
    std::string unreadable;  ///< why the bag's own file could not be opened
    std::map<std::uint32_t, RepairPlace> repair;

    /// Scans the file in the bag and, while `enough` is not met, in the other copies.
    template <typename Enough>
    Collection scan(RecoverySet& set, const Enough& enough) {
        Collection collection(name);
        for (std::size_t source = 0; source <= set.others_.size(); ++source) {
            const io::Path& root = source == 0 ? set.bag_ : set.others_[source - 1];
            bool done = false;
            try {
                const auto file = set.files_.open(root / name);
                scan_packets(*file, [&](const Packet& packet) {
                    Collected* taken = collection.take(packet, static_cast<std::uint16_t>(source));
                    done = taken != nullptr && enough(*taken, packet);
                    return !done;
                });
            } catch (const Error& error) {
                if (source == 0) unreadable = error.sentence();
            }
            if (done) break;
        }
        return collection;
    }
};

RecoverySet::RecoverySet(io::FileSystem& files, io::Path bag, std::vector<io::Path> others)
    : files_(files), bag_(std::move(bag)), others_(std::move(others)) {
    std::set<std::string> names = recovery_files_in(files_, bag_);
    for (const auto& other : others_)
        names.merge(recovery_files_in(files_, other));
    for (const auto& name : names)
        open_file(name);
    std::sort(states_.begin(), states_.end(), [](const auto& a, const auto& b) {
        return std::pair(a->identity.group, a->identity.number) <
               std::pair(b->identity.group, b->identity.number);
    });
    for (const auto& state : states_)
        adopt(*state);
    list_missing();
    for (std::uint32_t i = 0; i < windows_.size(); ++i)
        add_covered(i);
}

RecoverySet::~RecoverySet() = default;
RecoverySet::RecoverySet(RecoverySet&&) noexcept = default;

void RecoverySet::open_file(const std::string& name) {
    auto state = std::make_unique<FileState>();
    state->name = name;
    bool whole_index_first = false;
    Collection collection = state->scan(*this, [&](const Collected& taken, const Packet& packet) {
        // The first repair block ends the index; it must belong to the same sealing, or the file is
        // a mixture.
        whole_index_first = packet.header.kind == PacketKind::repair && taken.index_complete() &&
                            taken.votes == taken.own_index_packets + 1 && taken.consistent();
        return whole_index_first;
    });
    Collected* best = collection.best();
    if (best == nullptr) {
        lost_.push_back(found(FindingKind::recovery_damaged, name,
                              state->unreadable.empty()
                                  ? "nothing of this recovery file can be used"
                                  : "the recovery file " + state->unreadable));
        return;
    }
    state->identity = best->identity;
    state->extents = *best->extents();
    state->own = best->own_index_packets > 0 || best->own_repair_packets > 0;
    state->complete_index =
        whole_index_first || best->own_index_packets == state->identity.index_packets();
    states_.push_back(std::move(state));
}

void RecoverySet::adopt(FileState& state) {
    const Identity& identity = state.identity;
    windows_.push_back({.window = {.group = identity.group,
                                   .number = identity.number,
                                   .windows = identity.windows,
                                   .percent = identity.percent,
                                   .geometry = identity.geometry,
                                   .extents = std::move(state.extents)},
                        .id = identity.window_id,
                        .own = state.own});
}

void RecoverySet::list_missing() {
    for (const auto group : {Group::payload, Group::tags}) {
        std::uint32_t windows = 0;
        std::set<std::uint32_t> present;
        for (const auto& covered : windows_) {
            if (covered.window.group != group) continue;
            windows = std::max(windows, covered.window.windows);
            if (covered.own) present.insert(covered.window.number);
        }
        // A number of windows is believed only as far as their files could exist: one for each that
        // is there, tenfold.
        windows = std::min<std::uint32_t>(windows,
                                          static_cast<std::uint32_t>(10 * windows_.size() + 100));
        for (std::uint32_t number = 0; number < windows; ++number) {
            if (present.contains(number)) continue;
            const std::string name = file_name(group, number);
            const bool said = std::any_of(lost_.begin(), lost_.end(),
                                          [&](const auto& f) { return f.path == name; });
            if (!said)
                lost_.push_back(
                    found(FindingKind::recovery_damaged, name, "the recovery file is lost"));
        }
    }
}

void RecoverySet::add_covered(std::uint32_t window) {
    const auto& extents = windows_[window].window.extents;
    for (std::uint32_t i = 0; i < extents.size(); ++i) {
        CoveredFile& file = covered_[extents[i].name];
        if (file.segments.empty()) file.size = extents[i].file_size;
        const auto& first =
            file.segments.empty() ? windows_[window] : windows_[file.segments.front().window];
        const bool agrees =
            file.size == extents[i].file_size &&
            first.window.geometry.block_size == windows_[window].window.geometry.block_size &&
            first.window.group == windows_[window].window.group;
        if (agrees) file.segments.push_back({window, i});
    }
}

const CoveredFile* RecoverySet::find(std::string_view name) const {
    const auto found = covered_.find(name);
    return found == covered_.end() ? nullptr : &found->second;
}

std::uint32_t RecoverySet::percent() const {
    return windows_.empty() ? 0 : windows_.front().window.percent;
}

std::shared_ptr<const Checks> RecoverySet::checks(std::size_t window) {
    const auto known = std::find_if(cached_.begin(), cached_.end(),
                                    [&](const auto& c) { return c.window == window; });
    if (known != cached_.end()) {
        cached_.splice(cached_.begin(), cached_, known);
        return cached_.front().checks;
    }
    FileState& state = *states_[window];
    Collection collection = state.scan(*this, [&](const Collected& taken, const Packet&) {
        return taken.identity == state.identity && taken.index_complete();
    });
    const Collected* best = collection.of(state.identity);
    auto checks = std::make_shared<Checks>();
    if (best != nullptr) {
        *checks = best->check_values();
    } else {
        checks->values.resize(state.identity.geometry.blocks);
        checks->known.resize(state.identity.geometry.blocks);
    }
    cached_.push_front({window, checks});
    std::size_t kept = 0;
    for (auto it = cached_.begin(); it != cached_.end();) {
        kept += it->checks->values.size();
        it = kept > checks_kept && it != cached_.begin() ? cached_.erase(it) : std::next(it);
    }
    return checks;
}

void RecoverySet::inspect(FileState& state) {
    if (state.inspected) return;
    state.inspected = true;
    const Identity& identity = state.identity;
    Collection collection = state.scan(*this, [&](const Collected& taken, const Packet&) {
        return taken.identity == identity && taken.index_complete() &&
               taken.repair.size() == identity.geometry.repair_blocks() && !taken.repair.empty() &&
               taken.votes >= identity.index_packets() + identity.geometry.repair_blocks();
    });
    state.index_packets_lost = identity.index_packets();
    state.repair_blocks_lost = identity.geometry.repair_blocks();
    Collected* best = collection.of(identity);
    if (best == nullptr) return;
    state.repair = std::move(best->repair);
    state.index_packets_lost -= std::min(state.index_packets_lost, best->own_index_packets);
    state.repair_blocks_lost -= best->own_repair_packets;
}

const std::map<std::uint32_t, RepairPlace>& RecoverySet::repair(std::size_t window) {
    inspect(*states_[window]);
    return states_[window]->repair;
}

bool RecoverySet::read_repair(std::size_t window, std::uint32_t index, std::span<std::byte> into) {
    const auto found = repair(window).find(index);
    if (found == repair(window).end()) return false;
    const RepairPlace& place = found->second;
    const io::Path path =
        (place.source == 0 ? bag_ : others_[place.source - 1u]) / states_[window]->name;
    try {
        if (!reading_.file || reading_.path != path) reading_ = {path, files_.open(path)};
        return reading_.file->read(place.offset, into) == into.size() &&
               check_of(into) == place.check;
    } catch (const Error&) {
        return false;
    }
}

void RecoverySet::inspect_all() {
    for (auto& state : states_)
        inspect(*state);
}

std::vector<Finding> RecoverySet::findings() const {
    std::vector<Finding> all = lost_;
    for (const auto& state : states_) {
        if (!state->own) continue;
        if (state->inspected && (state->index_packets_lost > 0 || state->repair_blocks_lost > 0)) {
            all.push_back(found(
                FindingKind::recovery_damaged, state->name,
                fmt::format("{} of {} repair blocks and {} of {} index packets are damaged",
                            state->repair_blocks_lost, state->identity.geometry.repair_blocks(),
                            state->index_packets_lost, state->identity.index_packets())));
        } else if (!state->inspected && !state->complete_index) {
            all.push_back(
                found(FindingKind::recovery_damaged, state->name, "its index is damaged"));
        }
    }
    return all;
}

}  // namespace glassine::recovery

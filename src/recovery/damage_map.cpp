#include "recovery/damage_map.h"

#include <algorithm>

namespace glassine::recovery {

namespace {

/// The bytes of a file that an extent covers end here.
std::uint64_t end_of(const Window& window, const Extent& extent) {
    const std::uint64_t end =
        extent.offset + std::uint64_t{extent.blocks} * window.geometry.block_size;
    return std::min(end, extent.file_size);
}

}  // namespace

DamageMap::DamageMap(const RecoverySet& set, std::vector<FileDamage> damages) : set_(set) {
    for (auto& damage : damages) {
        if (const auto* covered = set.find(damage.name)) {
            for (const auto& segment : covered->segments)
                windows_.insert(segment.window);
        }
        std::string name = damage.name;
        files_.insert_or_assign(std::move(name), std::move(damage));
    }
}

const FileDamage* DamageMap::find(std::string_view name) const {
    const auto found = files_.find(name);
    return found == files_.end() ? nullptr : &found->second;
}

std::set<std::uint32_t> DamageMap::lost_blocks(std::size_t number) const {
    const Window& window = set_.windows()[number].window;
    const std::uint64_t block_size = window.geometry.block_size;
    std::set<std::uint32_t> blocks;
    for (const auto& extent : window.extents) {
        const FileDamage* damage = find(extent.name);
        if (damage == nullptr) continue;
        for (const auto& range : damage->ranges) {
            const std::uint64_t from = std::max(range.offset, extent.offset);
            const std::uint64_t to = std::min(range.offset + range.length, end_of(window, extent));
            if (from >= to) continue;
            const std::uint64_t first = (from - extent.offset) / block_size;
            const std::uint64_t last = (to - 1 - extent.offset) / block_size;
            for (std::uint64_t block = first; block <= last; ++block) {
                blocks.insert(extent.first + static_cast<std::uint32_t>(block));
            }
        }
    }
    return blocks;
}

bool DamageMap::reaches_outside(const FileDamage& damage) const {
    const CoveredFile* covered = set_.find(damage.name);
    if (covered == nullptr || covered->size != damage.size) return true;
    for (const auto& range : damage.ranges) {
        std::uint64_t reached = range.offset;
        for (const auto& segment : covered->segments) {
            const Window& window = set_.windows()[segment.window].window;
            const Extent& extent = window.extents[segment.extent];
            if (extent.offset <= reached) reached = std::max(reached, end_of(window, extent));
        }
        if (reached < range.offset + range.length) return true;
    }
    return false;
}

}  // namespace glassine::recovery

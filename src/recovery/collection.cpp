#include "recovery/collection.h"

#include "recovery/bytes.h"

#include <algorithm>

namespace glassine::recovery {

namespace {

std::string joined(const std::map<std::uint32_t, std::string>& parts) {
    std::string whole;
    for (const auto& [index, part] : parts)
        whole += part;
    return whole;
}

}  // namespace

bool Collected::index_complete() const {
    return table.size() == identity.table_packets() && checks.size() == identity.check_packets();
}

std::optional<std::vector<Extent>> Collected::extents() const {
    if (table.size() != identity.table_packets()) return std::nullopt;
    return decode_table(joined(table), identity);
}

Checks Collected::check_values() const {
    Checks result;
    result.values.resize(identity.geometry.blocks);
    result.known.resize(identity.geometry.blocks);
    for (const auto& [index, part] : checks) {
        const std::size_t first = std::size_t{index} * identity.checks_a_packet();
        for (std::size_t i = 0; 8 * i < part.size(); ++i) {
            result.values[first + i] =
                get_number<Check>(reinterpret_cast<const std::byte*>(part.data()) + 8 * i);
            result.known[first + i] = true;
        }
    }
    return result;
}

bool Collected::consistent() const {
    if (!extents()) return false;
    if (!index_complete()) return true;
    const std::string all = joined(table) + joined(checks);
    return check_of(std::as_bytes(std::span(all.data(), all.size()))) == identity.window_id;
}

Collected* Collection::take(const Packet& packet, std::uint16_t source) {
    const Identity& identity = packet.header.identity;
    if (!packet.body_good || file_name(identity.group, identity.number) != name_) return nullptr;
    // No file holds the check values of more blocks than this; what says so would only take memory.
    if (std::uint64_t{8} * identity.geometry.blocks > packet.file_size) return nullptr;
    Collected* found = of(identity);
    if (found == nullptr) {
        if (found_.size() == most_identities) return nullptr;
        found_.emplace_back();
        found = &found_.back();
        found->identity = identity;
    }
    ++found->votes;
    const std::uint32_t index = packet.header.index;
    if (packet.header.kind == PacketKind::repair) {
        found->own_repair_packets += source == 0 && !found->repair.contains(index);
        found->repair.try_emplace(
            index, RepairPlace{source, packet.body_offset, packet.header.body_check});
    } else {
        found->own_index_packets += source == 0;
        auto& parts = packet.header.kind == PacketKind::table ? found->table : found->checks;
        parts.try_emplace(index, reinterpret_cast<const char*>(packet.body.data()),
                          packet.body.size());
    }
    return found;
}

Collected* Collection::of(const Identity& identity) {
    const auto found = std::find_if(found_.begin(), found_.end(), [&](const Collected& known) {
        return known.identity == identity;
    });
    return found == found_.end() ? nullptr : &*found;
}

Collected* Collection::best() {
    Collected* best = nullptr;
    for (auto& found : found_) {
        if ((best == nullptr || found.votes > best->votes) && found.consistent()) best = &found;
    }
    return best;
}

}  // namespace glassine::recovery

#include "recovery/packet.h"

#include "recovery/bytes.h"

#include <algorithm>
#include <bit>
#include <cstring>

namespace glassine::recovery {

namespace {

/// Offsets of the fields of a packet's header; docs/recovery-format.md has the same table.
enum At : std::size_t {
    at_magic = 0,
    at_version = 8,
    at_kind = 10,
    at_index = 12,
    at_length = 16,
    at_block_size = 20,
    at_window_id = 24,
    at_group = 32,
    at_k = 34,
    at_m = 36,
    at_zero = 38,
    at_number = 40,
    at_windows = 44,
    at_blocks = 48,
    at_words = 52,
    at_table_bytes = 56,
    at_extents = 60,
    at_percent = 64,
    at_reserved = 68,
    at_body_check = 72,
    at_header_check = 80,
};

std::uint32_t packets_for(std::uint64_t bytes, std::uint32_t block_size) {
    return static_cast<std::uint32_t>((bytes + block_size - 1) / block_size);
}

bool fits(const Geometry& shape) {
    if (!is_block_size(shape.block_size)) return false;
    if (shape.blocks == 0) return shape.words == 0 && shape.k == 0 && shape.m == 0;
    if (shape.words == 0 || shape.words > shape.blocks || shape.m == 0 || shape.k + shape.m > 255)
        return false;
    return shape.k == (std::uint64_t{shape.blocks} + shape.words - 1) / shape.words;
}

bool fits(const Header& header) {
    const Identity& identity = header.identity;
    if (identity.group != Group::payload && identity.group != Group::tags) return false;
    if (identity.number >= identity.windows || identity.extents == 0 || !fits(identity.geometry))
        return false;
    if (header.kind < PacketKind::table || header.kind > PacketKind::repair) return false;
    return header.index < identity.packets(header.kind) &&
           header.length == identity.body_size(header.kind, header.index);
}

}  // namespace

bool is_block_size(std::uint32_t bytes) {
    return std::has_single_bit(bytes) && bytes >= 64 && bytes <= (1u << 20);
}

std::uint32_t Identity::table_packets() const {
    return packets_for(table_bytes, geometry.block_size);
}

std::uint32_t Identity::check_packets() const {
    return packets_for(std::uint64_t{8} * geometry.blocks, geometry.block_size);
}

std::uint32_t Identity::packets(PacketKind kind) const {
    switch (kind) {
        case PacketKind::table:
            return table_packets();
        case PacketKind::checks:
            return check_packets();
        case PacketKind::repair:
            return geometry.repair_blocks();
    }
    return 0;
}

std::uint32_t Identity::body_size(PacketKind kind, std::uint32_t index) const {
    if (kind == PacketKind::repair) return geometry.block_size;
    const std::uint64_t all =
        kind == PacketKind::table ? table_bytes : std::uint64_t{8} * geometry.blocks;
    const std::uint64_t before = std::uint64_t{index} * geometry.block_size;
    return static_cast<std::uint32_t>(std::min<std::uint64_t>(all - before, geometry.block_size));
}

std::array<std::byte, header_size> encode_header(const Header& header) {
    std::array<std::byte, header_size> bytes{};
    const Identity& identity = header.identity;
    std::memcpy(bytes.data() + at_magic, packet_magic.data(), packet_magic.size());
    put_number<std::uint16_t>(&bytes[at_version], format_version);
    put_number<std::uint16_t>(&bytes[at_kind], static_cast<std::uint16_t>(header.kind));
    put_number<std::uint32_t>(&bytes[at_index], header.index);
    put_number<std::uint32_t>(&bytes[at_length], header.length);
    put_number<std::uint32_t>(&bytes[at_block_size], identity.geometry.block_size);
    put_number<std::uint64_t>(&bytes[at_window_id], identity.window_id);
    put_number<std::uint16_t>(&bytes[at_group], static_cast<std::uint16_t>(identity.group));
    put_number<std::uint16_t>(&bytes[at_k], identity.geometry.k);
    put_number<std::uint16_t>(&bytes[at_m], identity.geometry.m);
    put_number<std::uint32_t>(&bytes[at_number], identity.number);
    put_number<std::uint32_t>(&bytes[at_windows], identity.windows);
    put_number<std::uint32_t>(&bytes[at_blocks], identity.geometry.blocks);
    put_number<std::uint32_t>(&bytes[at_words], identity.geometry.words);
    put_number<std::uint32_t>(&bytes[at_table_bytes], identity.table_bytes);
    put_number<std::uint32_t>(&bytes[at_extents], identity.extents);
    put_number<std::uint32_t>(&bytes[at_percent], identity.percent);
    put_number<std::uint64_t>(&bytes[at_body_check], header.body_check);
    put_number<std::uint64_t>(&bytes[at_header_check],
                              check_of(std::span(bytes).first(at_header_check)));
    return bytes;
}

std::optional<Header> decode_header(std::span<const std::byte, header_size> bytes) {
    if (std::memcmp(bytes.data(), packet_magic.data(), packet_magic.size()) != 0)
        return std::nullopt;
    if (get_number<Check>(&bytes[at_header_check]) != check_of(bytes.first<at_header_check>()))
        return std::nullopt;
    if (get_number<std::uint16_t>(&bytes[at_version]) != format_version) return std::nullopt;
    if (get_number<std::uint16_t>(&bytes[at_zero]) != 0 ||
        get_number<std::uint32_t>(&bytes[at_reserved]) != 0) {
        return std::nullopt;
    }
    Header header;
    header.kind = static_cast<PacketKind>(get_number<std::uint16_t>(&bytes[at_kind]));
    header.index = get_number<std::uint32_t>(&bytes[at_index]);
    header.length = get_number<std::uint32_t>(&bytes[at_length]);
    header.body_check = get_number<Check>(&bytes[at_body_check]);
    Identity& identity = header.identity;
    identity.window_id = get_number<Check>(&bytes[at_window_id]);
    identity.group = static_cast<Group>(get_number<std::uint16_t>(&bytes[at_group]));
    identity.number = get_number<std::uint32_t>(&bytes[at_number]);
    identity.windows = get_number<std::uint32_t>(&bytes[at_windows]);
    identity.percent = get_number<std::uint32_t>(&bytes[at_percent]);
    identity.geometry = {.block_size = get_number<std::uint32_t>(&bytes[at_block_size]),
                         .blocks = get_number<std::uint32_t>(&bytes[at_blocks]),
                         .words = get_number<std::uint32_t>(&bytes[at_words]),
                         .k = get_number<std::uint16_t>(&bytes[at_k]),
                         .m = get_number<std::uint16_t>(&bytes[at_m])};
    identity.table_bytes = get_number<std::uint32_t>(&bytes[at_table_bytes]);
    identity.extents = get_number<std::uint32_t>(&bytes[at_extents]);
    if (!fits(header)) return std::nullopt;
    return header;
}

}  // namespace glassine::recovery

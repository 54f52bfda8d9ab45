#pragma once

#include "glassine/recovery/check.h"
#include "glassine/recovery/layout.h"

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

/// The bytes of a recovery file: docs/recovery-format.md, "Packets" and "File table".
namespace glassine::recovery {

inline constexpr std::size_t header_size = 88;
inline constexpr std::array<char, 8> packet_magic{'G', 'l', 'a', 's', 's', 'R', 'e', 'c'};
inline constexpr std::uint16_t format_version = 1;
inline constexpr std::size_t longest_name = 65535;

bool is_block_size(std::uint32_t bytes);

enum class PacketKind : std::uint16_t { table = 1, checks = 2, repair = 3 };

/// What all packets of one recovery file say alike: packets that say otherwise do not belong to it.
struct Identity {
    Check window_id = 0;  ///< check value of the file table followed by the check values
    Group group = Group::payload;
    std::uint32_t number = 0;
    std::uint32_t windows = 0;
    std::uint32_t percent = 0;
    Geometry geometry;
    std::uint32_t table_bytes = 0;
    std::uint32_t extents = 0;

    bool operator==(const Identity&) const = default;

    std::uint32_t table_packets() const;
    std::uint32_t check_packets() const;
    /// Packets of the file table and of the check values, in both of their copies.
    std::uint64_t index_packets() const {
        return 2 * (std::uint64_t{table_packets()} + check_packets());
    }
    /// Check values in one packet; the last packet may hold fewer.
    std::uint32_t checks_a_packet() const { return geometry.block_size / 8; }
    /// Packets of a kind, and bytes in the body of one of them.
    std::uint32_t packets(PacketKind kind) const;
    std::uint32_t body_size(PacketKind kind, std::uint32_t index) const;
};

struct Header {
    Identity identity;
    PacketKind kind = PacketKind::table;
    std::uint32_t index = 0;   ///< among the packets of its kind
    std::uint32_t length = 0;  ///< bytes of the body
    Check body_check = 0;
};

std::array<std::byte, header_size> encode_header(const Header& header);
/// Nothing unless the check value fits and every field is within the limits of the format.
std::optional<Header> decode_header(std::span<const std::byte, header_size> bytes);

std::uint64_t table_size(const std::vector<Extent>& extents);
std::string encode_table(const std::vector<Extent>& extents);
/// Nothing unless the table is whole, fits the window's shape, and every name is safe to use inside
/// a bag.
std::optional<std::vector<Extent>> decode_table(std::string_view bytes, const Identity& identity);

/// A relative path without empty, `.` and `..` parts and without NUL, that is not in the folder
/// `recovery`.
bool is_safe_name(std::string_view name);

}  // namespace glassine::recovery

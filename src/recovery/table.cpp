#include "recovery/bytes.h"
#include "recovery/packet.h"

#include <cstring>

namespace glassine::recovery {

namespace {

/// Bytes of an entry beside the name itself: name length 2, file size 8, offset 8, blocks 4.
constexpr std::size_t entry_size = 22;
constexpr std::uint64_t largest_file = std::uint64_t{1} << 62;

template <typename Number>
void append_number(std::string& out, Number value) {
    std::byte bytes[sizeof(Number)];
    put_number(bytes, value);
    out.append(reinterpret_cast<const char*>(bytes), sizeof(Number));
}

/// Takes an entry off the front of the table; nothing when the rest is too short.
std::optional<Extent> take_entry(std::string_view& bytes) {
    if (bytes.size() < entry_size) return std::nullopt;
    const auto* at = reinterpret_cast<const std::byte*>(bytes.data());
    const auto name_size = get_number<std::uint16_t>(at);
    if (bytes.size() < entry_size + name_size) return std::nullopt;
    Extent extent;
    extent.name = bytes.substr(2, name_size);
    at += 2 + name_size;
    extent.file_size = get_number<std::uint64_t>(at);
    extent.offset = get_number<std::uint64_t>(at + 8);
    extent.blocks = get_number<std::uint32_t>(at + 16);
    bytes.remove_prefix(entry_size + name_size);
    return extent;
}

/// Every block of the extent holds at least one byte of the file.
bool lies_in_its_file(const Extent& extent, std::uint64_t block_size) {
    if (extent.file_size > largest_file) return false;
    if (extent.blocks == 0) return extent.file_size == 0 && extent.offset == 0;
    if (extent.offset % block_size != 0 || extent.offset >= extent.file_size) return false;
    return (extent.blocks - std::uint64_t{1}) * block_size < extent.file_size - extent.offset;
}

/// Only the last extent of a window may stop short of the end of its file, only the first begin
/// behind its beginning.
bool runs_on(const Extent& extent, bool first, bool last, std::uint64_t block_size) {
    if (!first && extent.offset != 0) return false;
    return last || extent.offset + extent.blocks * block_size >= extent.file_size;
}

}  // namespace

std::uint64_t table_size(const std::vector<Extent>& extents) {
    std::uint64_t size = 0;
    for (const auto& extent : extents)
        size += entry_size + extent.name.size();
    return size;
}

std::string encode_table(const std::vector<Extent>& extents) {
    std::string out;
    out.reserve(table_size(extents));
    for (const auto& extent : extents) {
        append_number(out, static_cast<std::uint16_t>(extent.name.size()));
        out += extent.name;
        append_number(out, extent.file_size);
        append_number(out, extent.offset);
        append_number(out, extent.blocks);
    }
    return out;
}

std::optional<std::vector<Extent>> decode_table(std::string_view bytes, const Identity& identity) {
    std::vector<Extent> extents;
    const std::uint64_t block_size = identity.geometry.block_size;
    std::uint64_t blocks = 0;
    while (!bytes.empty()) {
        auto extent = take_entry(bytes);
        if (!extent || !is_safe_name(extent->name) || !lies_in_its_file(*extent, block_size))
            return std::nullopt;
        if (!extents.empty() && extents.back().name >= extent->name) return std::nullopt;
        if (!runs_on(*extent, extents.empty(), bytes.empty(), block_size)) return std::nullopt;
        extent->first = static_cast<std::uint32_t>(blocks);
        blocks += extent->blocks;
        extents.push_back(std::move(*extent));
    }
    if (blocks != identity.geometry.blocks || extents.size() != identity.extents)
        return std::nullopt;
    return extents;
}

bool is_safe_name(std::string_view name) {
    if (name.empty() || name.find('\0') != std::string_view::npos) return false;
    if (name.starts_with("recovery/")) return false;
    while (true) {
        const auto slash = name.find('/');
        const auto part = name.substr(0, slash);
        if (part.empty() || part == "." || part == "..") return false;
        if (slash == std::string_view::npos) return true;
        name.remove_prefix(slash + 1);
    }
}

}  // namespace glassine::recovery

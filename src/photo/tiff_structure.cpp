#include "photo/tiff_structure.h"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace glassine::photo {

namespace {

/// More directories or entries than any camera or program writes.
constexpr std::size_t most_directories = 200;
constexpr std::uint64_t most_entries = 4096;
constexpr std::uint64_t most_chunks = 10'000'000;

/// Bytes of a value by type (TIFF 6.0, TIFF supplement 1, BigTIFF); 0 for types that do not exist.
constexpr std::array<std::uint8_t, 19> type_sizes{0, 1, 1, 2, 4, 8, 1, 1, 2, 4,
                                                  8, 4, 8, 4, 0, 0, 8, 8, 8};

std::uint64_t type_size(std::uint16_t type) {
    return type < type_sizes.size() ? type_sizes[type] : 0;
}

bool starts_big_endian(Bytes file) {
    return !file.empty() && file[0] == std::byte{'M'};
}

}  // namespace

TiffStructure::TiffStructure(Bytes file) : reader_(file, starts_big_endian(file)) {
    read_header(file);
}

void TiffStructure::fail(std::string why, std::uint64_t offset) {
    if (!problem_.empty()) return;
    problem_ = std::move(why);
    problem_offset_ = offset;
}

void TiffStructure::read_header(Bytes file) {
    const auto magic = reader_.number(2, 2);
    big_ = magic == 43;
    const auto first = big_ ? reader_.number(8, 8) : reader_.number(4, 4);
    if (!first)
        return fail(fmt::format("cut off after {} bytes, within its header", file.size()),
                    file.size());
    read_chain(*first);
    for (std::size_t i = 0; i < directories_.size(); ++i)
        read_sub_directories(i);
}

void TiffStructure::read_chain(std::uint64_t offset) {
    while (offset != 0 && directories_.size() < most_directories) {
        std::uint64_t next = 0;
        if (!read_directory(offset, true, next)) return;
        offset = next;
    }
}

void TiffStructure::read_sub_directories(std::size_t parent) {
    const std::uint64_t children = count(directories_[parent], tag::sub_ifds);
    for (std::uint64_t i = 0; i < children && directories_.size() < most_directories; ++i) {
        const auto offset = number(directories_[parent], tag::sub_ifds, i);
        if (!offset) return;
        // Some writers chain directories behind a SubIFD; nothing points to them otherwise.
        for (std::uint64_t at = *offset; at != 0 && directories_.size() < most_directories;) {
            std::uint64_t next = 0;
            if (!read_directory(at, false, next)) break;
            at = next;
        }
    }
}

bool TiffStructure::read_directory(std::uint64_t offset, bool top, std::uint64_t& next) {
    if (std::ranges::find(visited_, offset) != visited_.end()) {
        fail(fmt::format("the directory at byte {} is listed twice", offset), offset);
        return false;
    }
    visited_.push_back(offset);
    const unsigned count_width = big_ ? 8 : 2;
    const unsigned entry_size = big_ ? 20 : 12;
    const unsigned offset_width = big_ ? 8 : 4;
    const auto entries = reader_.number(offset, count_width);
    if (!entries || *entries > most_entries ||
        !inside(reader_.size(), offset + count_width, *entries * entry_size)) {
        fail(fmt::format("cut off: the directory at byte {} lies outside the file", offset),
             std::min(offset, reader_.size()));
        return false;
    }
    TiffDirectory directory{offset, {}, top};
    for (std::uint64_t i = 0; i < *entries; ++i) {
        const std::uint64_t at = offset + count_width + i * entry_size;
        TiffEntry entry;
        entry.type = static_cast<std::uint16_t>(*reader_.number(at + 2, 2));
        entry.count = *reader_.number(at + 4, offset_width);
        const std::uint64_t value = at + 4 + offset_width;
        const std::uint64_t size = type_size(entry.type);
        const bool fits = entry.count <= offset_width && size * entry.count <= offset_width;
        entry.offset = fits ? value : *reader_.number(value, offset_width);
        entry.lies_inside = entry.count <= reader_.size() &&
                            inside(reader_.size(), entry.offset, size * entry.count);
        directory.entries.emplace(static_cast<std::uint16_t>(*reader_.number(at, 2)), entry);
    }
    // A missing pointer to the next directory is met in makers' raws and ends the chain like a 0.
    next = reader_.number(offset + count_width + *entries * entry_size, offset_width).value_or(0);
    directories_.push_back(std::move(directory));
    return true;
}

std::optional<std::uint64_t> TiffStructure::number(const TiffDirectory& directory,
                                                   std::uint16_t tag, std::uint64_t index) const {
    const auto found = directory.entries.find(tag);
    if (found == directory.entries.end()) return std::nullopt;
    const TiffEntry& entry = found->second;
    switch (entry.type) {
        case 1:
        case 3:
        case 4:
        case 13:
        case 16:
        case 18:
            break;
        default:
            return std::nullopt;
    }
    if (!entry.lies_inside || index >= entry.count) return std::nullopt;
    const auto size = static_cast<unsigned>(type_size(entry.type));
    return reader_.number(entry.offset + index * size, size);
}

std::uint64_t TiffStructure::count(const TiffDirectory& directory, std::uint16_t tag) const {
    const auto found = directory.entries.find(tag);
    return found == directory.entries.end() ? 0 : found->second.count;
}

std::optional<Bytes> TiffStructure::bytes(const TiffDirectory& directory, std::uint16_t tag) const {
    const auto found = directory.entries.find(tag);
    if (found == directory.entries.end() || !found->second.lies_inside) return std::nullopt;
    return reader_.range(found->second.offset, found->second.count * type_size(found->second.type));
}

std::vector<TiffChunk> TiffStructure::chunks(const TiffDirectory& directory) const {
    std::vector<TiffChunk> out;
    const auto list = [&](std::uint16_t offsets, std::uint16_t lengths) {
        const std::uint64_t n =
            std::min({count(directory, offsets), count(directory, lengths), most_chunks});
        for (std::uint64_t i = 0; i < n; ++i) {
            const auto offset = number(directory, offsets, i);
            const auto length = number(directory, lengths, i);
            if (!offset || !length) return;
            out.push_back({*offset, *length});
        }
    };
    list(tag::strip_offsets, tag::strip_byte_counts);
    list(tag::tile_offsets, tag::tile_byte_counts);
    list(tag::jpeg_offset, tag::jpeg_length);
    return out;
}

const TiffDirectory* TiffStructure::main_picture() const {
    const TiffDirectory* best = nullptr;
    std::uint64_t best_size = 0;
    for (const TiffDirectory& directory : directories_) {
        const std::uint64_t size =
            std::min<std::uint64_t>(number_or(directory, tag::width, 0), 1u << 30) *
            std::min<std::uint64_t>(number_or(directory, tag::length, 0), 1u << 30);
        const bool reduced = (number_or(directory, tag::new_subfile_type, 0) & 1) != 0;
        const bool has_data =
            has(directory, tag::strip_offsets) || has(directory, tag::tile_offsets);
        if (reduced || !has_data || size <= best_size) continue;
        best = &directory;
        best_size = size;
    }
    return best;
}

const TiffDirectory* TiffStructure::dng() const {
    for (const TiffDirectory& directory : directories_)
        if (directory.top && has(directory, tag::dng_version)) return &directory;
    return nullptr;
}

bool TiffStructure::holds_raw() const {
    return std::ranges::any_of(directories_, [this](const TiffDirectory& directory) {
        const auto photometric = number_or(directory, tag::photometric, 0);
        const auto compression = number_or(directory, tag::compression, 0);
        // Colour filter array (TIFF/EP), linear raw (DNG); makers' packings from memory.
        return photometric == 32803 || photometric == 34892 || compression == 34713 ||
               compression == 32767 || compression == 65535 || compression == 34316;
    });
}

}  // namespace glassine::photo

#include "zip_directory.h"

#include <algorithm>
#include <span>

namespace glassine::bagit {
namespace {

// Records of APPNOTE 6.3: signature, length of the fixed part.
constexpr std::uint32_t local_header = 0x04034b50;  // 4.3.7
constexpr std::size_t local_length = 30;
constexpr std::uint32_t directory_header = 0x02014b50;  // 4.3.12
constexpr std::size_t directory_length = 46;
constexpr std::uint32_t zip64_locator = 0x07064b50;  // 4.3.15
constexpr std::size_t locator_length = 20;
constexpr std::uint32_t zip64_end = 0x06064b50;  // 4.3.14
constexpr std::size_t zip64_end_length = 56;
constexpr std::uint32_t end_of_directory = 0x06054b50;  // 4.3.16
constexpr std::size_t end_length = 22;
constexpr std::size_t longest_comment = 65'535;

constexpr std::uint32_t in_zip64 = 0xFFFFFFFF;
constexpr std::uint64_t zip64_field = 0x0001;         // 4.5.3
constexpr std::uint64_t unicode_path_field = 0x7075;  // 4.6.9
/// Version and CRC of the other name stand before the name.
constexpr std::size_t unicode_path_head = 5;
constexpr std::uint64_t encrypted_flag = 1;
/// A directory of this size has some ten million entries.
constexpr std::uint64_t largest_directory = 1u << 30;

std::uint64_t number(std::string_view bytes, std::size_t at, std::size_t width) {
    std::uint64_t value = 0;
    for (std::size_t i = 0; i < width; ++i)
        value |= static_cast<std::uint64_t>(static_cast<unsigned char>(bytes[at + i])) << (8 * i);
    return value;
}

/// What is there of it.
std::string read_at(io::InputFile& input, std::uint64_t position, std::size_t length) {
    std::string out(length, '\0');
    out.resize(input.read(position, std::as_writable_bytes(std::span(out.data(), out.size()))));
    return out;
}

/// The content of an extra field; nothing when there is none of that number.
std::string_view field(std::string_view extra, std::uint64_t wanted) {
    while (extra.size() >= 4) {
        const std::size_t length = number(extra, 2, 2);
        if (length > extra.size() - 4) return {};
        if (number(extra, 0, 2) == wanted) return extra.substr(4, length);
        extra.remove_prefix(4 + length);
    }
    return {};
}

/// The local header's position: in the ZIP64 field it stands behind those of the two sizes that are
/// there as well.
std::uint64_t header_position(std::string_view record, std::string_view extra) {
    const std::uint64_t position = number(record, 42, 4);
    if (position != in_zip64) return position;
    const std::size_t at = (number(record, 24, 4) == in_zip64 ? 8u : 0u) +
                           (number(record, 20, 4) == in_zip64 ? 8u : 0u);
    const std::string_view values = field(extra, zip64_field);
    return values.size() >= at + 8 ? number(values, at, 8) : position;
}

}  // namespace

std::optional<ZipHeader> read_zip_header(io::InputFile& input, std::uint64_t position) {
    const std::string fixed = read_at(input, position, local_length);
    if (fixed.size() < local_length || number(fixed, 0, 4) != local_header) return std::nullopt;
    const std::size_t name_length = number(fixed, 26, 2);
    const std::size_t extra_length = number(fixed, 28, 2);
    const std::string rest = read_at(input, position + local_length, name_length + extra_length);
    if (rest.size() < name_length + extra_length) return std::nullopt;
    ZipHeader header;
    header.plain_name = rest.substr(0, name_length);
    const std::string_view better =
        field(std::string_view(rest).substr(name_length), unicode_path_field);
    header.name = better.size() > unicode_path_head ? std::string(better.substr(unicode_path_head))
                                                    : header.plain_name;
    header.stored = number(fixed, 8, 2) == 0 && (number(fixed, 6, 2) & encrypted_flag) == 0;
    header.content = position + local_length + name_length + extra_length;
    return header;
}

std::optional<ZipDirectory::Place> ZipDirectory::find_zip64(io::InputFile& input,
                                                            std::uint64_t end_record) {
    if (end_record < locator_length) return std::nullopt;
    const std::string locator = read_at(input, end_record - locator_length, locator_length);
    if (locator.size() < locator_length || number(locator, 0, 4) != zip64_locator)
        return std::nullopt;
    const std::string end = read_at(input, number(locator, 8, 8), zip64_end_length);
    if (end.size() < zip64_end_length || number(end, 0, 4) != zip64_end) return std::nullopt;
    return Place{number(end, 48, 8), number(end, 40, 8)};
}

std::optional<ZipDirectory::Place> ZipDirectory::find(io::InputFile& input, std::uint64_t size) {
    const std::uint64_t reach = std::min<std::uint64_t>(size, end_length + longest_comment);
    const std::string tail = read_at(input, size - reach, static_cast<std::size_t>(reach));
    for (std::size_t at = tail.size(); at-- > 0;) {
        if (tail.size() - at < end_length || number(tail, at, 4) != end_of_directory) continue;
        if (auto zip64 = find_zip64(input, size - reach + at)) return zip64;
        return Place{number(tail, at + 16, 4), number(tail, at + 12, 4)};
    }
    return std::nullopt;
}

ZipDirectory ZipDirectory::read(io::InputFile& input, std::uint64_t size) {
    ZipDirectory directory;
    const auto place = find(input, size);
    if (!place || place->size > std::min(size, largest_directory)) return directory;
    const std::string all = read_at(input, place->offset, static_cast<std::size_t>(place->size));
    std::string_view rest = all;
    while (rest.size() >= directory_length && number(rest, 0, 4) == directory_header) {
        const std::size_t name_length = number(rest, 28, 2);
        const std::size_t extra_length = number(rest, 30, 2);
        const std::size_t whole =
            directory_length + name_length + extra_length + number(rest, 32, 2);
        if (whole > rest.size()) break;
        const std::string_view extra = rest.substr(directory_length + name_length, extra_length);
        const std::string_view name = rest.substr(directory_length, name_length);
        directory.entries_.push_back(
            {header_position(rest, extra),
             name.empty() ? std::string_view() : directory.names_.add(name)});
        rest.remove_prefix(whole);
    }
    std::ranges::stable_sort(directory.entries_, {}, &Entry::header);
    return directory;
}

std::optional<ZipDirectory::Entry> ZipDirectory::before(std::uint64_t position) const {
    const auto after = std::ranges::lower_bound(entries_, position, {}, &Entry::header);
    if (after == entries_.begin()) return std::nullopt;
    return *std::prev(after);
}

}  // namespace glassine::bagit

#include "zip_writer.h"

#include "glassine/base/text.h"

#include <algorithm>
#include <ctime>

#include <isa-l/crc.h>

namespace glassine::flow {
namespace {

constexpr std::uint64_t limit32 = 0xFFFF'FFFF;
constexpr std::uint64_t limit16 = 0xFFFF;
constexpr std::uint16_t with_zip64 = 45;  // APPNOTE 4.4.3.2
constexpr std::uint16_t plain = 20;
constexpr std::uint16_t utf8_name = 1u << 11;         // APPNOTE 4.4.4, bit 11
constexpr std::uint16_t made_by_unix = 3u << 8 | 63;  // APPNOTE 4.4.2
constexpr std::uint32_t ordinary_file = 0100644u << 16;
constexpr std::size_t time_extra = 9;
constexpr std::size_t most_zip64_extra = 28;

/// Little-endian numbers, one after the other.
class Record {
  public:
    Record& u16(std::uint64_t value) { return number(value, 2); }
    Record& u32(std::uint64_t value) { return number(value, 4); }
    Record& u64(std::uint64_t value) { return number(value, 8); }
    Record& text(std::string_view value) {
        bytes_ += value;
        return *this;
    }
    const std::string& bytes() const { return bytes_; }

  private:
    Record& number(std::uint64_t value, int size) {
        for (int i = 0; i < size; ++i)
            bytes_ += static_cast<char>(value >> (8 * i) & 0xFF);
        return *this;
    }
    std::string bytes_;
};

std::int64_t unix_seconds(Timestamp moment) {
    constexpr std::int64_t second = 1'000'000'000;
    const std::int64_t whole = moment.nanoseconds / second;
    return moment.nanoseconds % second < 0 ? whole - 1 : whole;
}

/// Local time in steps of two seconds, 1980 to 2107 (APPNOTE 4.4.6).
std::uint32_t dos_time(Timestamp moment) {
    const std::time_t seconds = unix_seconds(moment);
    std::tm t{};
    ::localtime_r(&seconds, &t);
    constexpr int first_year = 80;
    constexpr int last_year = 207;
    if (t.tm_year < first_year) return 1u << 21 | 1u << 16;
    const auto part = [](int value, int shift) {
        return static_cast<std::uint32_t>(value) << shift;
    };
    return part(std::min(t.tm_year, last_year) - first_year, 25) | part(t.tm_mon + 1, 21) |
           part(t.tm_mday, 16) | part(t.tm_hour, 11) | part(t.tm_min, 5) | part(t.tm_sec / 2, 0);
}

/// The extended timestamp (0x5455, Info-ZIP's "UT"): the second in UTC.
std::string time_field(Timestamp moment) {
    const auto seconds = std::clamp<std::int64_t>(unix_seconds(moment), INT32_MIN, INT32_MAX);
    Record field;
    field.u16(0x5455).u16(5).text("\x01").u32(static_cast<std::uint32_t>(seconds));
    return field.bytes();
}

std::uint16_t flags(std::string_view name) {
    return text::is_utf8(name) && !text::is_ascii(name) ? utf8_name : 0;
}

std::uint64_t capped(std::uint64_t value) {
    return std::min(value, limit32);
}

std::string local_header(const ZipWriter::Entry& entry) {
    const bool large = entry.size >= limit32;
    Record extra;
    if (large) extra.u16(1).u16(16).u64(entry.size).u64(entry.size);  // APPNOTE 4.5.3
    extra.text(time_field(entry.modified));
    Record header;
    header.u32(0x04034b50).u16(large ? with_zip64 : plain).u16(flags(entry.name)).u16(0);
    header.u32(dos_time(entry.modified)).u32(entry.crc);
    header.u32(capped(entry.size)).u32(capped(entry.size));
    header.u16(entry.name.size()).u16(extra.bytes().size()).text(entry.name).text(extra.bytes());
    return header.bytes();
}

}  // namespace

std::uint32_t zip_crc(std::uint32_t crc, std::span<const std::byte> bytes) {
    return ::crc32_gzip_refl(crc, reinterpret_cast<const unsigned char*>(bytes.data()),
                             bytes.size());
}

std::uint64_t ZipWriter::cost(std::string_view name, std::uint64_t size) {
    constexpr std::uint64_t headers = 30 + 46 + 2 * (time_extra + most_zip64_extra);
    return headers + 2 * name.size() + size;
}

void ZipWriter::put(std::string_view bytes) {
    out_.append(bytes);
    written_ += bytes.size();
}

void ZipWriter::begin(Entry entry) {
    const std::uint64_t offset = written_;
    put(local_header(entry));
    entries_.push_back({std::move(entry), offset});
    directory_ += directory_record(entries_.back()).size();
}

void ZipWriter::bytes(std::span<const std::byte> bytes) {
    out_.append(bytes);
    written_ += bytes.size();
}

std::string ZipWriter::directory_record(const Placed& placed) const {
    const Entry& entry = placed.entry;
    const bool large = entry.size >= limit32;
    const bool far = placed.offset >= limit32;
    Record extra;
    if (large || far) extra.u16(1).u16((large ? 16 : 0) + (far ? 8 : 0));
    if (large) extra.u64(entry.size).u64(entry.size);
    if (far) extra.u64(placed.offset);
    extra.text(time_field(entry.modified));
    Record record;
    record.u32(0x02014b50).u16(made_by_unix).u16(large || far ? with_zip64 : plain);
    record.u16(flags(entry.name)).u16(0).u32(dos_time(entry.modified)).u32(entry.crc);
    record.u32(capped(entry.size)).u32(capped(entry.size));
    record.u16(entry.name.size()).u16(extra.bytes().size()).u16(0).u16(0).u16(0);
    record.u32(ordinary_file).u32(capped(placed.offset));
    record.text(entry.name).text(extra.bytes());
    return record.bytes();
}

void ZipWriter::finish() {
    std::ranges::sort(entries_, {},
                      [](const Placed& p) -> const std::string& { return p.entry.name; });
    const std::uint64_t offset = written_;
    for (const Placed& placed : entries_)
        put(directory_record(placed));
    write_end(offset, written_ - offset);
}

void ZipWriter::write_end(std::uint64_t offset, std::uint64_t size) {
    const std::uint64_t count = entries_.size();
    Record end;
    if (count >= limit16 || offset >= limit32 || size >= limit32) {
        // APPNOTE 4.3.14 and 4.3.15: the ZIP64 end record and where it stands.
        end.u32(0x06064b50).u64(44).u16(made_by_unix).u16(with_zip64).u32(0).u32(0);
        end.u64(count).u64(count).u64(size).u64(offset);
        end.u32(0x07064b50).u32(0).u64(offset + size).u32(1);
    }
    const std::uint64_t shown = std::min(count, limit16);
    end.u32(0x06054b50).u16(0).u16(0).u16(shown).u16(shown);
    end.u32(capped(size)).u32(capped(offset)).u16(0);
    put(end.bytes());
}

}  // namespace glassine::flow

#include "archive_reader.h"

#include "thread_locale.h"
#include "zip_directory.h"

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <utility>

#include <archive.h>
#include <archive_entry.h>

namespace glassine::bagit {
namespace {

constexpr int most_retries = 3;

/// Where the thread's locale is UTF-8, libarchive normalises names on their way to it. In the C
/// locale it hands tar's names on as they are (and gives those of ZIP up, which are read from the
/// archive itself).
constexpr const char* plain_locale = "C";

io::FileType type_of(archive_entry* entry) {
    switch (archive_entry_filetype(entry)) {
        case AE_IFREG:
            return io::FileType::regular;
        case AE_IFDIR:
            return io::FileType::directory;
        case AE_IFLNK:
            return io::FileType::symlink;
        case AE_IFIFO:
            return io::FileType::fifo;
        case AE_IFSOCK:
            return io::FileType::socket;
        case AE_IFBLK:
            return io::FileType::block_device;
        case AE_IFCHR:
            return io::FileType::character_device;
        default:
            return io::FileType::unknown;
    }
}

/// Seconds that do not fit into a `Timestamp` are none.
Timestamp time_of(archive_entry* entry) {
    constexpr std::int64_t most_seconds = 9'000'000'000;
    if (archive_entry_mtime_is_set(entry) == 0) return {};
    const std::int64_t seconds = archive_entry_mtime(entry);
    if (seconds > most_seconds || seconds < -most_seconds) return {};
    return {seconds * 1'000'000'000 + archive_entry_mtime_nsec(entry)};
}

struct Free {
    void operator()(archive* a) const { archive_read_free(a); }
};

}  // namespace

/// Everything that libarchive calls back into; an exception must not pass through it.
struct ArchiveReader::State {
    std::unique_ptr<io::InputFile> input;
    std::uint64_t size = 0;
    std::uint64_t at = 0;
    std::uint64_t bytes_read = 0;
    std::vector<std::byte> buffer;
    std::unique_ptr<archive, Free> reader{archive_read_new()};
    RawMember member;
    std::optional<ZipDirectory> zip_directory;
    std::optional<ZipHeader> zip_header;
    std::optional<Piece> ahead;  ///< fetched by `content_position`
    std::uint64_t end_of_member = 0;
    bool ended = false;  ///< the present member's content was read to its end, or cannot be
    std::optional<std::string> fault;
    std::optional<std::string> member_fault;
    bool medium_failed = false;

    static la_ssize_t read(archive*, void* self, const void** into);
    static la_int64_t skip(archive*, void* self, la_int64_t request);
    static la_int64_t seek(archive*, void* self, la_int64_t offset, int whence);

    void open();
    void describe(archive_entry* entry);
    void describe_zip();
    void note_fault();
    std::optional<Piece> fetch();
    bool is_zip() const {
        return (archive_format(reader.get()) & ARCHIVE_FORMAT_BASE_MASK) == ARCHIVE_FORMAT_ZIP;
    }
};

la_ssize_t ArchiveReader::State::read(archive* a, void* self, const void** into) {
    State& s = *static_cast<State*>(self);
    try {
        const std::size_t got = s.input->read(s.at, s.buffer);
        s.at += got;
        s.bytes_read += got;
        *into = s.buffer.data();
        return static_cast<la_ssize_t>(got);
    } catch (const Error& error) {
        s.medium_failed = true;
        archive_set_error(a, EIO, "%s", error.why().c_str());
        return ARCHIVE_FATAL;
    }
}

la_int64_t ArchiveReader::State::skip(archive*, void* self, la_int64_t request) {
    State& s = *static_cast<State*>(self);
    const std::uint64_t left = s.size - std::min(s.at, s.size);
    const auto leap = std::min(static_cast<std::uint64_t>(std::max<la_int64_t>(request, 0)), left);
    s.at += leap;
    return static_cast<la_int64_t>(leap);
}

la_int64_t ArchiveReader::State::seek(archive*, void* self, la_int64_t offset, int whence) {
    State& s = *static_cast<State*>(self);
    la_int64_t base = 0;
    if (whence == SEEK_CUR) base = static_cast<la_int64_t>(s.at);
    if (whence == SEEK_END) base = static_cast<la_int64_t>(s.size);
    if (offset < -base || offset > static_cast<la_int64_t>(s.size) - base) return ARCHIVE_FATAL;
    s.at = static_cast<std::uint64_t>(base + offset);
    return base + offset;
}

void ArchiveReader::State::open() {
    archive* a = reader.get();
    if (a == nullptr) throw std::bad_alloc();
    // Not "all": some filters would start other programs.
    archive_read_support_filter_gzip(a);
    archive_read_support_filter_bzip2(a);
    archive_read_support_filter_xz(a);
    archive_read_support_filter_zstd(a);
    archive_read_support_format_tar(a);
    archive_read_support_format_zip(a);
    archive_read_set_read_callback(a, &State::read);
    archive_read_set_skip_callback(a, &State::skip);
    archive_read_set_seek_callback(a, &State::seek);
    archive_read_set_callback_data(a, this);
    const ThreadLocale locale(plain_locale);
    if (archive_read_open1(a) < ARCHIVE_WARN) note_fault();
}

void ArchiveReader::State::note_fault() {
    const char* why = archive_error_string(reader.get());
    fault = why == nullptr || *why == '\0' ? "it is damaged" : why;
}

void ArchiveReader::State::describe(archive_entry* entry) {
    member = {};
    const char* name = archive_entry_pathname(entry);
    if (name != nullptr) member.name = name;
    zip_header.reset();
    if (is_zip()) describe_zip();
    if (const char* target = archive_entry_hardlink(entry)) member.hard_link = target;
    member.type = member.hard_link ? io::FileType::regular : type_of(entry);
    member.size_known = archive_entry_size_is_set(entry) != 0;
    if (member.size_known && archive_entry_size(entry) > 0)
        member.size = static_cast<std::uint64_t>(archive_entry_size(entry));
    member.modified = time_of(entry);
    member.encrypted = archive_entry_is_data_encrypted(entry) != 0;
}

/// libarchive stands behind the local header now. Which one that is, the directory at the archive's
/// end knows; an archive that has lost it is read from header to header.
void ArchiveReader::State::describe_zip() {
    if (!zip_directory) zip_directory = ZipDirectory::read(*input, size);
    const auto content = static_cast<std::uint64_t>(archive_filter_bytes(reader.get(), 0));
    const auto entry = zip_directory->before(content);
    const std::uint64_t position =
        entry ? entry->header
              : static_cast<std::uint64_t>(archive_read_header_position(reader.get()));
    zip_header = read_zip_header(*input, position);
    if (zip_header && zip_header->content != content) zip_header.reset();
    if (!zip_header) return;
    member.name = zip_header->name;
    member.other_name = entry && entry->name != zip_header->plain_name;
}

std::optional<ArchiveReader::Piece> ArchiveReader::State::fetch() {
    if (ended || fault) return std::nullopt;
    const void* bytes = nullptr;
    std::size_t length = 0;
    la_int64_t offset = 0;
    const int result = archive_read_data_block(reader.get(), &bytes, &length, &offset);
    const std::uint64_t from = offset > 0 ? static_cast<std::uint64_t>(offset) : 0;
    if (result == ARCHIVE_OK || result == ARCHIVE_WARN) {
        end_of_member = std::max(end_of_member, from + length);
        return Piece{{static_cast<const std::byte*>(bytes), length}, from};
    }
    ended = true;
    if (result == ARCHIVE_EOF) {
        end_of_member = std::max(end_of_member, from);
        return std::nullopt;
    }
    note_fault();
    member_fault = fault;
    if (result != ARCHIVE_FATAL) fault.reset();
    return std::nullopt;
}

ArchiveReader::ArchiveReader(io::FileSystem& files, const io::Path& path, io::Cache cache,
                             std::size_t read_size)
    : ArchiveReader(files.open(path, cache), read_size) {}

ArchiveReader::ArchiveReader(std::unique_ptr<io::InputFile> input, std::size_t read_size)
    : state_(std::make_unique<State>()) {
    state_->buffer.resize(read_size);
    state_->input = std::move(input);
    state_->size = state_->input->info().size;
    state_->open();
}

ArchiveReader::~ArchiveReader() = default;

bool ArchiveReader::next() {
    State& s = *state_;
    if (s.fault) return false;
    s.ahead.reset();
    s.ended = false;
    s.end_of_member = 0;
    s.member_fault.reset();
    archive_entry* entry = nullptr;
    const ThreadLocale locale(plain_locale);
    int result = ARCHIVE_RETRY;
    for (int i = 0; i < most_retries && result == ARCHIVE_RETRY; ++i)
        result = archive_read_next_header(s.reader.get(), &entry);
    if (result == ARCHIVE_EOF) return false;
    if (result != ARCHIVE_OK && result != ARCHIVE_WARN) {
        s.note_fault();
        return false;
    }
    try {
        s.describe(entry);
    } catch (const Error& error) {
        s.medium_failed = true;
        s.fault = error.why();
        return false;
    }
    return true;
}

const RawMember& ArchiveReader::member() const {
    return state_->member;
}

std::optional<ArchiveReader::Piece> ArchiveReader::piece() {
    if (state_->ahead) return std::exchange(state_->ahead, std::nullopt);
    return state_->fetch();
}

std::uint64_t ArchiveReader::end_of_member() const {
    return state_->end_of_member;
}

const std::optional<std::string>& ArchiveReader::fault() const {
    return state_->fault;
}

bool ArchiveReader::medium_failed() const {
    return state_->medium_failed;
}

const std::optional<std::string>& ArchiveReader::member_fault() const {
    return state_->member_fault;
}

bool ArchiveReader::compressed() const {
    return archive_filter_count(state_->reader.get()) > 1;
}

bool ArchiveReader::zip() const {
    return state_->is_zip();
}

std::string ArchiveReader::media_type() const {
    if (!compressed()) return zip() ? "application/zip" : "application/x-tar";
    switch (archive_filter_code(state_->reader.get(), 0)) {
        case ARCHIVE_FILTER_GZIP:
            return "application/gzip";
        case ARCHIVE_FILTER_BZIP2:
            return "application/x-bzip2";
        case ARCHIVE_FILTER_XZ:
            return "application/x-xz";
        case ARCHIVE_FILTER_ZSTD:
            return "application/zstd";
        default:
            return "application/octet-stream";
    }
}

std::uint64_t ArchiveReader::header_position() const {
    return static_cast<std::uint64_t>(archive_read_header_position(state_->reader.get()));
}

std::optional<std::uint64_t> ArchiveReader::content_position() {
    State& s = *state_;
    if (compressed()) return std::nullopt;
    if (s.is_zip())
        return s.zip_header && s.zip_header->stored ? std::optional(s.zip_header->content)
                                                    : std::nullopt;
    if (!s.ahead) s.ahead = s.fetch();
    // libarchive gives a block back only when it is asked for the next one: until then its position
    // is that of the first byte.
    return static_cast<std::uint64_t>(archive_filter_bytes(s.reader.get(), 0));
}

std::uint64_t ArchiveReader::archive_size() const {
    return state_->size;
}

std::uint64_t ArchiveReader::bytes_read() const {
    return state_->bytes_read;
}

}  // namespace glassine::bagit

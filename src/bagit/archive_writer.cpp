#include "archive_writer.h"

#include "glassine/base/text.h"
#include "thread_locale.h"

#include <optional>

#include <archive.h>
#include <archive_entry.h>

namespace glassine::bagit {
namespace {

constexpr std::int64_t second = 1'000'000'000;
constexpr const char* utf8_locale = "C.UTF-8";
/// Readable by everybody, writable by the owner: what files on the shelf have.
constexpr int permissions = 0644;

struct FreeWriter {
    void operator()(archive* a) const { archive_write_free(a); }
};
struct FreeEntry {
    void operator()(archive_entry* e) const { archive_entry_free(e); }
};

}  // namespace

struct ArchiveWriter::State {
    State(io::OutputFile& into, ArchiveForm kind) : out(into), form(kind) {}

    io::OutputFile& out;
    ArchiveForm form;
    bool ended = false;  ///< by `finish` or by a failure: nothing more is to be written
    std::uint64_t position = 0;
    std::optional<Error> failure;
    std::unique_ptr<archive, FreeWriter> writer{archive_write_new()};

    static la_ssize_t write(archive*, void* self, const void* bytes, std::size_t length);
    void open();
    /// Throws what went wrong in a call of libarchive.
    void require(la_ssize_t result, const std::string& name);
};

/// Never tells libarchive of a failure, which would then not free all it holds; `require` tells it
/// to the caller, and nothing more is written.
la_ssize_t ArchiveWriter::State::write(archive*, void* self, const void* bytes,
                                       std::size_t length) {
    State& s = *static_cast<State*>(self);
    if (!s.ended) {
        try {
            s.out.append(std::span(static_cast<const std::byte*>(bytes), length));
            s.position += length;
        } catch (const Error& error) {
            s.failure = error;
            s.ended = true;
        }
    }
    return static_cast<la_ssize_t>(length);
}

void ArchiveWriter::State::open() {
    archive* a = writer.get();
    if (a == nullptr) throw std::bad_alloc();
    // libarchive takes names in the thread's locale; the option for ZIP asks for it now.
    const ThreadLocale locale(utf8_locale);
    if (form == ArchiveForm::tar) {
        archive_write_set_format_pax(a);
    } else {
        archive_write_set_format_zip(a);
        archive_write_set_options(a, "zip:compression=store,zip:hdrcharset=UTF-8");
    }
    // Whatever it is given goes on at once: then positions in the file are known.
    archive_write_set_bytes_per_block(a, 0);
    require(archive_write_open(a, this, nullptr, &State::write, nullptr), {});
}

void ArchiveWriter::State::require(la_ssize_t result, const std::string& name) {
    if (failure) throw Error(*failure);
    if (result >= ARCHIVE_WARN) return;
    const char* why = archive_error_string(writer.get());
    throw Error(Cause::other, "write the archive", name, why == nullptr ? "it failed" : why,
                "run the command again");
}

ArchiveWriter::ArchiveWriter(io::OutputFile& out, ArchiveForm form)
    : state_(std::make_unique<State>(out, form)) {
    state_->open();
}

ArchiveWriter::~ArchiveWriter() {
    state_->ended = true;
}

void ArchiveWriter::begin(const std::string& name, std::uint64_t size, Timestamp modified) {
    if (state_->form == ArchiveForm::zip && !text::is_utf8(name))
        throw Error(Cause::not_supported, "put the file into a ZIP archive", name,
                    "its name is no UTF-8, and ZIP could not keep it",
                    "serialise as tar, or rename the file in the job");
    const std::unique_ptr<archive_entry, FreeEntry> entry(archive_entry_new());
    if (!entry) throw std::bad_alloc();
    std::int64_t whole = modified.nanoseconds / second;
    if (modified.nanoseconds % second < 0) --whole;
    const ThreadLocale locale(utf8_locale);
    archive_entry_copy_pathname(entry.get(), name.c_str());
    archive_entry_set_filetype(entry.get(), AE_IFREG);
    archive_entry_set_perm(entry.get(), permissions);
    archive_entry_set_size(entry.get(), static_cast<la_int64_t>(size));
    archive_entry_set_mtime(entry.get(), whole,
                            static_cast<long>(modified.nanoseconds - whole * second));
    state_->require(archive_write_header(state_->writer.get(), entry.get()), name);
}

void ArchiveWriter::bytes(std::span<const std::byte> bytes) {
    while (!bytes.empty()) {
        const la_ssize_t n = archive_write_data(state_->writer.get(), bytes.data(), bytes.size());
        state_->require(n, {});
        if (n <= 0) return;
        bytes = bytes.subspan(static_cast<std::size_t>(n));
    }
}

void ArchiveWriter::end() {
    state_->require(archive_write_finish_entry(state_->writer.get()), {});
}

void ArchiveWriter::finish() {
    const ThreadLocale locale(utf8_locale);
    state_->require(archive_write_close(state_->writer.get()), {});
    state_->ended = true;
}

std::uint64_t ArchiveWriter::position() const {
    return state_->position;
}

}  // namespace glassine::bagit

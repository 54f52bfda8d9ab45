#include "glassine/shelf/register.h"

#include "glassine/base/error.h"
#include "glassine/io/files.h"
#include "shelf/register_inside.h"
#include "shelf/schema.h"

#include <array>
#include <string>
#include <utility>

#include <fmt/format.h>

namespace glassine::shelf {

namespace {

constexpr std::string_view sqlite_magic{"SQLite format 3\0", 16};

/// The first bytes of the file; fewer when it is shorter.
std::string head_of(io::FileSystem& files, const io::Path& path) {
    std::array<std::byte, 100> head{};
    const std::size_t size = files.open(path)->read(0, head);
    return {reinterpret_cast<const char*>(head.data()), size};
}

std::string full_check(sql::Database& database) {
    auto query = database.query("PRAGMA integrity_check(1)");
    const std::string answer = query.next() ? query.text(0) : std::string("no answer");
    return answer == "ok" ? std::string() : answer;
}

RegisterCheck look_inside(const io::Path& path, Register::Depth depth) {
    sql::Database database(path.string(), sql::Database::Mode::read_only);
    if (database.pragma("application_id") != register_application_id) {
        return {RegisterState::foreign, "it is another program's database"};
    }
    const std::int64_t version = database.pragma("user_version");
    if (version > current_schema()) {
        return {RegisterState::newer,
                fmt::format("a newer version of this program wrote it (schema {}, this one knows "
                            "{})",
                            version, current_schema())};
    }
    if (version == current_schema()) {
        const std::string table = missing_table(database);
        if (!table.empty()) return {RegisterState::damaged, "the table " + table + " is missing"};
    }
    if (depth == Register::Depth::full) {
        const std::string problem = full_check(database);
        if (!problem.empty()) return {RegisterState::damaged, problem};
    }
    return {RegisterState::ready, {}};
}

/// What to do about a register that cannot be opened.
Error refusal(const RegisterCheck& check, const io::Path& path) {
    const auto error = [&](Cause cause, const char* next) {
        return Error(cause, "open the register", path.string(), check.why, next);
    };
    switch (check.state) {
        case RegisterState::missing:
            return error(Cause::not_found,
                         "if there was one before, `glassine shelf scan PATH…` rebuilds it from "
                         "the drives");
        case RegisterState::foreign:
            return error(Cause::malformed, "name the register with --register");
        case RegisterState::newer:
            return error(Cause::not_supported, "use the newer version");
        default:
            return error(Cause::malformed,
                         "`glassine shelf scan PATH…` rebuilds it from the drives and keeps the "
                         "damaged file beside it");
    }
}

/// Settings of a connection, not of the file.
void settle(sql::Database& database) {
    // WAL: readers never wait for the writer. After a loss of power the last records may be
    // undone, never torn; the drives' logs have them.
    database.run(
        "PRAGMA journal_mode = WAL; PRAGMA synchronous = NORMAL; PRAGMA foreign_keys = OFF;"
        "PRAGMA cache_size = -65536; PRAGMA temp_store = MEMORY; PRAGMA trusted_schema = OFF");
}

}  // namespace

RegisterCheck Register::examine(io::FileSystem& files, const io::Path& path, Depth depth) {
    const auto standing = files.find(path);
    if (!standing) return {RegisterState::missing, "there is no register here"};
    if (standing->type != io::FileType::regular) {
        return {RegisterState::foreign, "this is no regular file"};
    }
    const std::string head = head_of(files, path);
    if (head.size() < 100) return {RegisterState::damaged, "the file is cut short or empty"};
    if (std::string_view(head).substr(0, 16) != sqlite_magic) {
        return {RegisterState::damaged, "its first bytes are not those of a register"};
    }
    try {
        return look_inside(path, depth);
    } catch (const Error& error) {
        if (error.cause() != Cause::malformed) throw;
        return {RegisterState::damaged, error.why()};
    }
}

void Register::create(io::FileSystem& files, const io::Path& path) {
    const io::Path fresh = path.string() + ".new-" + random_uuid();
    try {
        sql::Database database(fresh.string(), sql::Database::Mode::create);
        migrate_schema(database);
    } catch (const Error&) {
        if (files.find(fresh)) files.remove_file(fresh);
        throw;
    }
    try {
        files.rename(fresh, path);
    } catch (const Error&) {
        files.remove_file(fresh);
        throw;
    }
    files.sync_directory(path.has_parent_path() ? path.parent_path() : io::Path("."));
}

io::Path Register::set_aside(io::FileSystem& files, const io::Path& path) {
    std::string moment = rfc3339(files.now());
    std::erase_if(moment, [](char c) { return c == ':' || c == '-'; });
    io::Path aside = path.string() + ".damaged-" + moment;
    for (int n = 2; files.find(aside); ++n) {
        aside = fmt::format("{}.damaged-{}-{}", path.string(), moment, n);
    }
    files.rename(path, aside);
    // What was written last may still stand in the files beside it: they stay together.
    for (const char* beside : {"-wal", "-shm"}) {
        const io::Path from = path.string() + beside;
        if (files.find(from)) files.rename(from, aside.string() + beside);
    }
    return aside;
}

Register::Register(io::FileSystem& files, const io::Path& path) {
    const RegisterCheck check = examine(files, path);
    if (check.state != RegisterState::ready) throw refusal(check, path);
    inside_ = std::make_unique<Inside>(files, path);
    settle(inside_->database);
    migrate_schema(inside_->database);
}

Register::Register(Register&&) noexcept = default;
Register& Register::operator=(Register&&) noexcept = default;
Register::~Register() = default;

Register::Batch::Batch(Register& target) : register_(target) {
    register_.inside().database.run("BEGIN IMMEDIATE");
}

Register::Batch::~Batch() {
    if (!open_) return;
    try {
        register_.inside().database.run("ROLLBACK");
    } catch (const Error&) {
        // SQLite undoes the transaction itself when it failed; there is nothing left to undo then.
    }
}

void Register::Batch::commit() {
    register_.inside().database.run("COMMIT");
    open_ = false;
}

}  // namespace glassine::shelf

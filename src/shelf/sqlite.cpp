#include "shelf/sqlite.h"

#include "glassine/base/error.h"

#include <utility>

namespace glassine::shelf::sql {

namespace {

constexpr int patience_ms = 30'000;

Cause cause_of(int code) {
    switch (code & 0xff) {
        case SQLITE_BUSY:
        case SQLITE_LOCKED:
            return Cause::busy;
        case SQLITE_CORRUPT:
        case SQLITE_NOTADB:
        case SQLITE_FORMAT:
            return Cause::malformed;
        case SQLITE_FULL:
            return Cause::no_space;
        case SQLITE_READONLY:
            return Cause::read_only;
        case SQLITE_PERM:
        case SQLITE_AUTH:
            return Cause::permission;
        case SQLITE_IOERR:
            return Cause::unreadable;
        case SQLITE_CANTOPEN:
            return Cause::not_found;
        default:
            return Cause::other;
    }
}

std::string advice(Cause cause) {
    switch (cause) {
        case Cause::busy:
            return "wait until the other program is done, then run the command again";
        case Cause::malformed:
            return "the drives carry everything: `glassine shelf scan PATH…` builds the register "
                   "anew and keeps the damaged file beside it";
        case Cause::no_space:
            return "free some space where the register lies, then run the command again";
        case Cause::read_only:
        case Cause::permission:
            return "make the register and its folder writable, or name another with --register";
        default:
            return {};
    }
}

int flags_of(Database::Mode mode) {
    switch (mode) {
        case Database::Mode::read_only:
            return SQLITE_OPEN_READONLY;
        case Database::Mode::read_write:
            return SQLITE_OPEN_READWRITE;
        case Database::Mode::create:
            break;
    }
    return SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE;
}

}  // namespace

Query::Query(Database& database, sqlite3_stmt* statement, bool cached)
    : database_(&database), statement_(statement), cached_(cached) {}

Query::Query(Query&& other) noexcept
    : database_(other.database_),
      statement_(std::exchange(other.statement_, nullptr)),
      cached_(other.cached_) {}

Query::~Query() {
    if (!statement_) return;
    if (!cached_) {
        sqlite3_finalize(statement_);
        return;
    }
    sqlite3_reset(statement_);
    sqlite3_clear_bindings(statement_);
    database_->give_back(statement_);
}

void Query::check(int code) const {
    if (code != SQLITE_OK) database_->fail(code);
}

bool Query::next() {
    const int code = sqlite3_step(statement_);
    if (code == SQLITE_ROW) return true;
    if (code != SQLITE_DONE) database_->fail(code);
    return false;
}

void Query::run() {
    while (next()) {
    }
}

void Query::run_again() {
    run();
    check(sqlite3_reset(statement_));
}

void Query::bind(int index, std::int64_t value) {
    check(sqlite3_bind_int64(statement_, index, value));
}

void Query::bind(int index, std::string_view text) {
    // A null pointer would bind NULL where an empty text is meant.
    const char* data = text.data() ? text.data() : "";
    check(sqlite3_bind_text64(statement_, index, data, text.size(), SQLITE_STATIC, SQLITE_UTF8));
}

void Query::bind(int index, Blob blob) {
    const void* data = blob.data() ? static_cast<const void*>(blob.data()) : "";
    check(sqlite3_bind_blob64(statement_, index, data, blob.size(), SQLITE_STATIC));
}

void Query::bind(int index, std::nullptr_t) {
    check(sqlite3_bind_null(statement_, index));
}

std::int64_t Query::integer(int column) const {
    return sqlite3_column_int64(statement_, column);
}

bool Query::is_null(int column) const {
    return sqlite3_column_type(statement_, column) == SQLITE_NULL;
}

std::string_view Query::view(int column) const {
    const unsigned char* text = sqlite3_column_text(statement_, column);
    if (!text) return {};
    return {reinterpret_cast<const char*>(text),
            static_cast<std::size_t>(sqlite3_column_bytes(statement_, column))};
}

Blob Query::blob(int column) const {
    const void* data = sqlite3_column_blob(statement_, column);
    if (!data) return {};
    return {static_cast<const std::byte*>(data),
            static_cast<std::size_t>(sqlite3_column_bytes(statement_, column))};
}

std::optional<Timestamp> Query::moment(int column) const {
    if (is_null(column)) return std::nullopt;
    return Timestamp{integer(column)};
}

Database::Database(const std::string& path, Mode mode) : path_(path) {
    // SQLite's own locks are left out: a connection belongs to one thread at a time.
    const int flags = flags_of(mode) | SQLITE_OPEN_NOMUTEX;
    const int code = sqlite3_open_v2(path.c_str(), &handle_, flags, nullptr);
    if (code != SQLITE_OK) {
        const Cause cause = cause_of(handle_ ? sqlite3_extended_errcode(handle_) : code);
        const std::string why = sqlite3_errstr(code);
        sqlite3_close_v2(handle_);
        throw Error(cause, "open the register", path_, why, advice(cause));
    }
    sqlite3_extended_result_codes(handle_, 1);
    sqlite3_busy_timeout(handle_, patience_ms);
}

Database::~Database() {
    for (auto& [text, kept] : statements_)
        sqlite3_finalize(kept.statement);
    sqlite3_close_v2(handle_);
}

void Database::fail(int code) const {
    const Cause cause = cause_of(code);
    std::string why = sqlite3_errmsg(handle_);
    if (cause == Cause::busy) why = "another program is writing to it";
    if (cause == Cause::malformed) why = "it is damaged (" + why + ")";
    throw Error(cause, "use the register", path_, why, advice(cause));
}

void Database::run(const char* statements) {
    const int code = sqlite3_exec(handle_, statements, nullptr, nullptr, nullptr);
    if (code != SQLITE_OK) fail(code);
}

Query Database::prepare(const char* statement) {
    const auto known = statements_.find(std::string_view(statement));
    if (known != statements_.end() && !known->second.in_use) {
        known->second.in_use = true;
        return Query(*this, known->second.statement, true);
    }
    sqlite3_stmt* prepared = nullptr;
    const int code =
        sqlite3_prepare_v3(handle_, statement, -1, SQLITE_PREPARE_PERSISTENT, &prepared, nullptr);
    if (code != SQLITE_OK) fail(code);
    // The same statement is running already further up: this one is for a single use.
    if (known != statements_.end()) return Query(*this, prepared, false);
    statements_.emplace(statement, Kept{prepared, true});
    return Query(*this, prepared, true);
}

void Database::give_back(sqlite3_stmt* statement) {
    const auto known = statements_.find(std::string_view(sqlite3_sql(statement)));
    if (known != statements_.end()) known->second.in_use = false;
}

std::int64_t Database::pragma(const char* name) {
    const std::string statement = std::string("PRAGMA ") + name;
    sqlite3_stmt* prepared = nullptr;
    const int code = sqlite3_prepare_v2(handle_, statement.c_str(), -1, &prepared, nullptr);
    if (code != SQLITE_OK) fail(code);
    Query query(*this, prepared, false);
    return query.next() ? query.integer(0) : 0;
}

Transaction::Transaction(Database& database)
    : database_(database), nested_(database.in_transaction()) {
    // Immediate: a writer that first reads and then finds another writer before it cannot wait.
    database_.run(nested_ ? "SAVEPOINT part" : "BEGIN IMMEDIATE");
}

Transaction::~Transaction() {
    if (!open_ || !database_.in_transaction()) return;
    try {
        database_.run(nested_ ? "ROLLBACK TO part; RELEASE part" : "ROLLBACK");
    } catch (const Error&) {
        // An Error is on its way already; closing the connection undoes the transaction as well.
    }
}

void Transaction::commit() {
    database_.run(nested_ ? "RELEASE part" : "COMMIT");
    open_ = false;
}

Snapshot::Snapshot(Database& database) : database_(database), own_(!database.in_transaction()) {
    if (own_) database_.run("BEGIN");
}

Snapshot::~Snapshot() {
    if (!own_ || !database_.in_transaction()) return;
    try {
        database_.run("COMMIT");
    } catch (const Error&) {
        // Nothing was written; the next statement reports what is wrong with the file.
    }
}

}  // namespace glassine::shelf::sql

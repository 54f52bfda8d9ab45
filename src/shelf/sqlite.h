#pragma once

#include "glassine/base/time.h"

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include <sqlite3.h>

/// SQLite's C interface with owners: every failure is an Error that names the file.
namespace glassine::shelf::sql {

using Blob = std::span<const std::byte>;

class Database;

/// A prepared statement in use: bound, stepped, and given back when it goes out of scope. Text and
/// blobs are bound without a copy and must live until then.
class Query {
  public:
    Query(Database& database, sqlite3_stmt* statement, bool cached);
    Query(Query&& other) noexcept;
    Query(const Query&) = delete;
    Query& operator=(const Query&) = delete;
    ~Query();

    /// To the next row; false past the last.
    bool next();
    /// For statements without rows: runs them to the end.
    void run();
    /// Runs and makes ready to be bound again.
    void run_again();

    void bind(int index, std::int64_t value);
    void bind(int index, std::uint64_t value) { bind(index, static_cast<std::int64_t>(value)); }
    void bind(int index, int value) { bind(index, static_cast<std::int64_t>(value)); }
    void bind(int index, unsigned value) { bind(index, static_cast<std::int64_t>(value)); }
    void bind(int index, bool value) { bind(index, static_cast<std::int64_t>(value)); }
    void bind(int index, std::string_view text);
    void bind(int index, const std::string& text) { bind(index, std::string_view(text)); }
    void bind(int index, const char* text) { bind(index, std::string_view(text)); }
    void bind(int index, Blob blob);
    void bind(int index, std::nullptr_t);
    void bind(int index, Timestamp moment) { bind(index, moment.nanoseconds); }
    template <typename T>
    void bind(int index, const std::optional<T>& value) {
        value ? bind(index, *value) : bind(index, nullptr);
    }

    std::int64_t integer(int column) const;
    std::uint64_t count(int column) const { return static_cast<std::uint64_t>(integer(column)); }
    bool is_null(int column) const;
    /// Valid until the next step.
    std::string_view view(int column) const;
    std::string text(int column) const { return std::string(view(column)); }
    Blob blob(int column) const;
    std::optional<Timestamp> moment(int column) const;

  private:
    void check(int code) const;

    Database* database_;
    sqlite3_stmt* statement_;
    bool cached_;
};

/// One connection. Belongs to one thread at a time.
class Database {
  public:
    enum class Mode { read_only, read_write, create };
    Database(const std::string& path, Mode mode);
    Database(const Database&) = delete;
    Database& operator=(const Database&) = delete;
    ~Database();

    const std::string& path() const { return path_; }
    /// Statements without parameters, separated by semicolons.
    void run(const char* statements);
    /// A statement with its parameters bound in order, kept prepared for the next time.
    template <typename... Values>
    Query query(const char* statement, const Values&... values) {
        Query query = prepare(statement);
        int index = 0;
        (query.bind(++index, values), ...);
        return query;
    }
    template <typename... Values>
    void run(const char* statement, const Values&... values) requires(sizeof...(Values) > 0) {
        query(statement, values...).run();
    }
    std::int64_t pragma(const char* name);
    std::int64_t last_id() const { return sqlite3_last_insert_rowid(handle_); }
    std::int64_t changed() const { return sqlite3_changes64(handle_); }
    bool in_transaction() const { return sqlite3_get_autocommit(handle_) == 0; }

    /// Throws the Error for a result code of SQLite.
    [[noreturn]] void fail(int code) const;

  private:
    friend class Query;
    Query prepare(const char* statement);
    void give_back(sqlite3_stmt* statement);

    struct Kept {
        sqlite3_stmt* statement;
        bool in_use;
    };
    std::string path_;
    sqlite3* handle_ = nullptr;
    std::map<std::string, Kept, std::less<>> statements_;
};

/// A write transaction, undone unless committed. Inside another one it is a savepoint: undone, it
/// takes back its own part only.
class Transaction {
  public:
    explicit Transaction(Database& database);
    Transaction(const Transaction&) = delete;
    Transaction& operator=(const Transaction&) = delete;
    ~Transaction();
    void commit();

  private:
    Database& database_;
    bool nested_;
    bool open_ = true;
};

/// Reads that belong together: what others commit meanwhile is not seen.
class Snapshot {
  public:
    explicit Snapshot(Database& database);
    Snapshot(const Snapshot&) = delete;
    Snapshot& operator=(const Snapshot&) = delete;
    ~Snapshot();

  private:
    Database& database_;
    bool own_;
};

}  // namespace glassine::shelf::sql

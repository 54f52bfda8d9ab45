#include "glassine/base/error.h"
#include "glassine/base/text.h"
#include "shelf/register_inside.h"

#include <algorithm>
#include <set>
#include <utility>

namespace glassine::shelf {

namespace {

std::optional<std::string> text_of(const std::optional<Date>& day) {
    return day ? std::optional(iso_date(*day)) : std::nullopt;
}

/// What the tag files say of the bag; they are covered by the seal, so the first word is the last.
void describe(sql::Database& database, std::int64_t bag, const BagRecord& record) {
    const auto shoot = text_of(record.shoot_date);
    const auto sealed = text_of(record.sealed);
    const auto promised = text_of(record.promised_until);
    const auto keep = text_of(record.keep_until);
    database.run(
        "UPDATE bags SET number = ?, shoot_date = ?, description = ?, sealed = ?, "
        "promised_until = ?, keep_until = ?, payload_bytes = ?, payload_files = ?, described = 1 "
        "WHERE id = ?",
        record.number, shoot, record.description, sealed, promised, keep, record.payload_bytes,
        record.payload_files, bag);
    int position = 0;
    for (const std::string& client : record.clients) {
        database.run("INSERT OR REPLACE INTO clients VALUES (?, ?, ?)", bag, position++, client);
    }
}

struct BagColumns {
    bool described = false;
    bool listed = false;
};

BagColumns columns_of(sql::Database& database, std::int64_t bag) {
    auto query =
        database.query("SELECT described, last_file IS NOT NULL FROM bags WHERE id = ?", bag);
    query.next();
    return {query.integer(0) != 0, query.integer(1) != 0};
}

/// `path` is `below`, or inside it.
bool is_below(std::string_view path, std::string_view below) {
    if (below.empty() || path == below) return true;
    return path.size() > below.size() && path.starts_with(below) && path[below.size()] == '/';
}

}  // namespace

std::int64_t volume_row(sql::Database& database, std::string_view id) {
    auto known = database.query("SELECT id FROM volumes WHERE uuid = ?", id);
    if (known.next()) return known.integer(0);
    database.run("INSERT INTO volumes(uuid) VALUES (?)", id);
    return database.last_id();
}

std::optional<std::int64_t> find_bag_row(sql::Database& database, const BagKey& bag) {
    auto known =
        database.query("SELECT id FROM bags WHERE name = ? AND seal = ?", bag.name, bag.seal);
    if (!known.next()) return std::nullopt;
    return known.integer(0);
}

std::int64_t bag_row(sql::Database& database, std::string_view name, std::string_view seal) {
    if (const auto known = find_bag_row(database, {std::string(name), std::string(seal)})) {
        return *known;
    }
    database.run("INSERT INTO bags(name, seal) VALUES (?, ?)", name, seal);
    return database.last_id();
}

std::int64_t copy_row(sql::Database& database, std::int64_t bag, std::int64_t volume, bool packed) {
    auto known =
        database.query("SELECT id FROM copies WHERE bag_id = ? AND volume_id = ? AND packed = ?",
                       bag, volume, packed);
    if (known.next()) return known.integer(0);
    database.run("INSERT INTO copies(bag_id, volume_id, packed) VALUES (?, ?, ?)", bag, volume,
                 packed);
    return database.last_id();
}

void Register::record_volume(const VolumeIdentity& identity, const io::Path& root) {
    sql::Database& database = inside().database;
    sql::Transaction transaction(database);
    const std::int64_t row = volume_row(database, identity.id);
    const auto in_service = text_of(identity.in_service);
    database.run(
        "UPDATE volumes SET label = ?, place = ?, kind = ?, in_service = ?, capacity = ?, "
        "file_system_id = ?, model = ?, serial = ?, purchase = ?, written = ? "
        "WHERE id = ? AND (written IS NULL OR written <= ?)",
        identity.label, identity.place, word(identity.kind), in_service, identity.capacity,
        identity.file_system_id, identity.model, identity.serial, identity.purchase,
        identity.written, row, identity.written);
    const std::string where = root.string();
    if (!where.empty()) {
        database.run("UPDATE volumes SET root = ? WHERE id = ? AND root <> ?", where, row, where);
    }
    transaction.commit();
}

void Register::record_bag(const BagRecord& bag) {
    if (bag.name.empty() || bag.seal.empty() || bag.volume.empty()) {
        throw Error(Cause::malformed, "record the bag", bag.path,
                    "its name, seal or volume is not known");
    }
    sql::Database& database = inside().database;
    sql::Transaction transaction(database);
    const std::int64_t volume = volume_row(database, bag.volume);
    const std::int64_t row = bag_row(database, bag.name, text::ascii_lower(bag.seal));
    const BagColumns known = columns_of(database, row);
    if (!known.described) describe(database, row, bag);
    if (!known.listed && !bag.payload.empty()) {
        write_payload(database, row, bag);
    }
    const bool packed = !bag.media_type.empty();
    const std::int64_t copy = copy_row(database, row, volume, packed);
    database.run(
        "UPDATE copies SET present = 1, path = ?2 WHERE id = ?1 AND (present = 0 OR path <> ?2)",
        copy, bag.path);
    // Its events may have come first.
    if (database.changed() > 0) replay_copies(database, bag.name, bag.volume, packed);
    transaction.commit();
}

void Register::finish_scan(const std::string& volume, std::string_view below,
                           std::span<const SeenCopy> seen) {
    sql::Database& database = inside().database;
    sql::Transaction transaction(database);
    const std::set<SeenCopy> there(seen.begin(), seen.end());
    std::vector<std::pair<std::int64_t, bool>> changes;
    auto query = database.query(
        "SELECT copies.id, name, seal, path, present, packed FROM copies JOIN bags ON bags.id = "
        "bag_id "
        "JOIN volumes ON volumes.id = volume_id WHERE uuid = ?",
        volume);
    while (query.next()) {
        const bool seen_now =
            there.contains({{query.text(1), query.text(2)}, query.integer(5) != 0});
        if (!seen_now && !is_below(query.view(3), below)) continue;
        if (seen_now != (query.integer(4) != 0)) changes.emplace_back(query.integer(0), seen_now);
    }
    for (const auto& [copy, present] : changes) {
        database.run("UPDATE copies SET present = ? WHERE id = ?", present, copy);
    }
    transaction.commit();
}

}  // namespace glassine::shelf

#include "glassine/base/text.h"
#include "shelf/register_inside.h"

#include <algorithm>
#include <string>
#include <utility>

namespace glassine::shelf {

namespace {

SealWitness witness_from(const sql::Query& query) {
    SealWitness witness;
    witness.seal = query.text(1);
    witness.volume = query.text(2);
    witness.first = query.moment(3);
    witness.rank = static_cast<SealWitness::Rank>(query.integer(4));
    return witness;
}

/// The rows of a copy; nothing if the bag or the volume is not known.
struct CopyPlace {
    std::int64_t bag;
    std::int64_t volume;
};
std::optional<CopyPlace> place_of(sql::Database& database, const BagKey& bag,
                                  const std::string& volume) {
    const auto row = find_bag_row(database, {bag.name, text::ascii_lower(bag.seal)});
    auto query = database.query("SELECT id FROM volumes WHERE uuid = ?", volume);
    if (!row || !query.next()) return std::nullopt;
    return CopyPlace{*row, query.integer(0)};
}

/// What is below a path lies between "path/" and "path0": 0 is what follows the slash. (Texts that
/// a query is given must outlive it.)
struct Below {
    explicit Below(const std::string& path) : first(path + "/"), behind(path + "0") {}
    std::string first;
    std::string behind;
};

}  // namespace

std::map<std::string, std::vector<SealWitness>, std::less<>> load_seals(sql::Database& database) {
    std::map<std::string, std::vector<SealWitness>, std::less<>> seals;
    auto query = database.query("SELECT bag, seal, volume, first, rank FROM seals");
    while (query.next())
        seals[query.text(0)].push_back(witness_from(query));
    return seals;
}

std::vector<SealWitness> Register::seal_witnesses(std::string_view bag_name) {
    sql::Database& database = inside().database;
    std::vector<SealWitness> witnesses;
    auto events = database.query(
        "SELECT bag, seal, volume, first, rank FROM seals WHERE bag = ? ORDER BY first, volume",
        bag_name);
    while (events.next())
        witnesses.push_back(witness_from(events));
    // What a scan saw and no event names.
    auto scans = database.query(
        "SELECT name, seal, uuid, NULL, 0 FROM bags JOIN copies ON bag_id = bags.id JOIN volumes "
        "ON volumes.id = volume_id WHERE name = ? AND present = 1 AND NOT EXISTS (SELECT 1 FROM "
        "seals WHERE seals.bag = bags.name AND seals.seal = bags.seal AND seals.volume = uuid) "
        "ORDER BY uuid",
        bag_name);
    while (scans.next())
        witnesses.push_back(witness_from(scans));
    return witnesses;
}

std::vector<PayloadFile> Register::payload(const BagKey& bag) {
    sql::Database& database = inside().database;
    std::vector<PayloadFile> payload;
    const auto row = find_bag_row(database, {bag.name, text::ascii_lower(bag.seal)});
    if (!row) return payload;
    auto query = database.query(
        "SELECT folder || stem || extension, digest FROM bags JOIN files ON files.id BETWEEN "
        "first_file AND last_file JOIN frames ON frames.id = frame_id JOIN forms ON forms.id = "
        "form_id WHERE bags.id = ? AND rejected = 0",
        *row);
    while (query.next())
        payload.push_back({query.text(0), digest::Value(query.blob(1))});
    std::sort(payload.begin(), payload.end(),
              [](const PayloadFile& a, const PayloadFile& b) { return a.path < b.path; });
    return payload;
}

std::vector<digest::Algorithm> Register::algorithms() {
    auto query = inside().database.query("SELECT bytes FROM digest_sizes");
    std::vector<digest::Algorithm> algorithms;
    while (query.next()) {
        for (const digest::Algorithm algorithm : digest::all_algorithms) {
            if (digest::size(algorithm) == query.count(0)) algorithms.push_back(algorithm);
        }
    }
    std::sort(algorithms.begin(), algorithms.end());
    return algorithms;
}

std::unique_ptr<Holdings> Register::holdings() {
    return register_holdings(inside().database);
}

AuditProgress Register::audit_progress(const BagKey& bag, const std::string& volume) {
    sql::Database& database = inside().database;
    AuditProgress progress;
    const auto place = place_of(database, bag, volume);
    if (!place) return progress;
    auto since =
        database.query("SELECT since FROM audit_progress WHERE bag_id = ? AND volume_id = ?",
                       place->bag, place->volume);
    if (!since.next()) return progress;
    progress.since = since.moment(0);
    auto files = database.query(
        "SELECT path FROM audited_files WHERE bag_id = ? AND volume_id = ? ORDER BY path",
        place->bag, place->volume);
    while (files.next())
        progress.files.push_back(files.text(0));
    return progress;
}

void Register::add_audit_progress(const BagKey& bag, const std::string& volume, Timestamp now,
                                  std::span<const std::string> files) {
    sql::Database& database = inside().database;
    sql::Transaction transaction(database);
    const std::int64_t bag_id = bag_row(database, bag.name, text::ascii_lower(bag.seal));
    const std::int64_t volume_id = volume_row(database, volume);
    database.run("INSERT OR IGNORE INTO audit_progress VALUES (?, ?, ?)", bag_id, volume_id, now);
    for (const std::string& file : files) {
        database.run("INSERT OR IGNORE INTO audited_files VALUES (?, ?, ?)", bag_id, volume_id,
                     file);
    }
    transaction.commit();
}

Register::ObjectChecksums Register::object_checksums(const std::string& volume,
                                                     const std::string& path) {
    const Below below(path);
    auto query = inside().database.query(
        "SELECT path, checksum FROM object_checksums WHERE volume_id = "
        "(SELECT id FROM volumes WHERE uuid = ?) AND (path = ? OR (path > ? AND path < ?))",
        volume, path, below.first, below.behind);
    ObjectChecksums checksums;
    while (query.next())
        checksums.emplace(query.text(0), query.text(1));
    return checksums;
}

void Register::note_object_checksums(const std::string& volume, const ObjectChecksums& checksums) {
    sql::Database& database = inside().database;
    sql::Transaction transaction(database);
    const std::int64_t volume_id = volume_row(database, volume);
    for (const auto& [path, checksum] : checksums)
        database.run("INSERT OR REPLACE INTO object_checksums VALUES (?, ?, ?)", volume_id, path,
                     checksum);
    transaction.commit();
}

void Register::forget_object_checksums(const std::string& volume, const std::string& path) {
    const Below below(path);
    inside().database.run(
        "DELETE FROM object_checksums WHERE volume_id = (SELECT id FROM volumes WHERE uuid = ?) "
        "AND (path = ? OR (path > ? AND path < ?))",
        volume, path, below.first, below.behind);
}

void Register::forget_audit_progress(const BagKey& bag, const std::string& volume) {
    sql::Database& database = inside().database;
    const auto place = place_of(database, bag, volume);
    if (!place) return;
    sql::Transaction transaction(database);
    database.run("DELETE FROM audit_progress WHERE bag_id = ? AND volume_id = ?", place->bag,
                 place->volume);
    database.run("DELETE FROM audited_files WHERE bag_id = ? AND volume_id = ?", place->bag,
                 place->volume);
    transaction.commit();
}

}  // namespace glassine::shelf

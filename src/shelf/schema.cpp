#include "shelf/schema.h"

#include <array>

#include <fmt/format.h>

namespace glassine::shelf {

namespace {

/// Version 1. Digests are blobs whose length tells the algorithm. A frame is a file name without
/// folder and extension within one bag, so that a raw, its sidecar and its exports share one row;
/// a form is a folder and an extension, shared by all bags. A bag's frames and files are written at
/// once and never changed: they are rows without a gap, and the bag knows the first and the last.
/// The index holds only the first six bytes of each digest: enough to be nearly unique among
/// millions, a tenth of the size.
constexpr const char* first_version = R"(
CREATE TABLE volumes(
  id INTEGER PRIMARY KEY, uuid TEXT NOT NULL UNIQUE, label TEXT NOT NULL DEFAULT '',
  place TEXT NOT NULL DEFAULT '', kind TEXT NOT NULL DEFAULT 'drive', in_service TEXT,
  capacity INTEGER NOT NULL DEFAULT 0, file_system_id TEXT NOT NULL DEFAULT '',
  model TEXT NOT NULL DEFAULT '', serial TEXT NOT NULL DEFAULT '',
  purchase TEXT NOT NULL DEFAULT '', written INTEGER, root TEXT NOT NULL DEFAULT '');
CREATE TABLE bags(
  id INTEGER PRIMARY KEY, name TEXT NOT NULL, seal TEXT NOT NULL, number TEXT NOT NULL DEFAULT '',
  shoot_date TEXT, description TEXT NOT NULL DEFAULT '', sealed TEXT, promised_until TEXT,
  keep_until TEXT, payload_bytes INTEGER NOT NULL DEFAULT 0,
  payload_files INTEGER NOT NULL DEFAULT 0, described INTEGER NOT NULL DEFAULT 0,
  first_frame INTEGER, last_frame INTEGER, first_file INTEGER, last_file INTEGER,
  UNIQUE(name, seal));
CREATE TABLE clients(
  bag_id INTEGER NOT NULL REFERENCES bags, position INTEGER NOT NULL, name TEXT NOT NULL,
  PRIMARY KEY(bag_id, position)) WITHOUT ROWID;
CREATE VIEW jobs AS
  SELECT CASE number WHEN '' THEN name ELSE number END AS job, count(DISTINCT name) AS bags,
         min(shoot_date) AS shoot_date FROM bags GROUP BY 1;
CREATE TABLE copies(
  id INTEGER PRIMARY KEY, bag_id INTEGER NOT NULL REFERENCES bags,
  volume_id INTEGER NOT NULL REFERENCES volumes, path TEXT NOT NULL DEFAULT '',
  present INTEGER NOT NULL DEFAULT 0, made INTEGER, proven INTEGER, checked INTEGER,
  damaged INTEGER NOT NULL DEFAULT 0, dropped INTEGER NOT NULL DEFAULT 0, first_error INTEGER,
  last_error INTEGER, trouble TEXT NOT NULL DEFAULT '', UNIQUE(bag_id, volume_id));
CREATE INDEX copies_by_volume ON copies(volume_id);
CREATE TABLE frames(
  id INTEGER PRIMARY KEY, bag_id INTEGER NOT NULL REFERENCES bags, stem TEXT NOT NULL);
CREATE TABLE forms(
  id INTEGER PRIMARY KEY, folder TEXT NOT NULL, extension TEXT NOT NULL,
  rejected INTEGER NOT NULL, UNIQUE(folder, extension, rejected));
CREATE TABLE files(
  id INTEGER PRIMARY KEY, frame_id INTEGER NOT NULL REFERENCES frames,
  form_id INTEGER NOT NULL REFERENCES forms, digest BLOB NOT NULL);
CREATE INDEX files_by_digest ON files(substr(digest, 1, 6));
CREATE TABLE digest_sizes(bytes INTEGER PRIMARY KEY);
CREATE TABLE words(
  word TEXT NOT NULL, bag_id INTEGER NOT NULL REFERENCES bags,
  PRIMARY KEY(word, bag_id)) WITHOUT ROWID;
CREATE TABLE events(
  id INTEGER PRIMARY KEY, uuid BLOB NOT NULL UNIQUE, time INTEGER NOT NULL, type TEXT NOT NULL,
  outcome INTEGER NOT NULL, bag TEXT, seal TEXT, volume TEXT, line TEXT NOT NULL);
CREATE INDEX events_by_bag ON events(bag, volume, time);
CREATE INDEX events_by_volume ON events(volume, time);
CREATE INDEX policy_events ON events(time) WHERE type = 'policy assignment';
CREATE TABLE seals(
  bag TEXT NOT NULL, seal TEXT NOT NULL, volume TEXT NOT NULL, first INTEGER NOT NULL,
  rank INTEGER NOT NULL, PRIMARY KEY(bag, seal, volume)) WITHOUT ROWID;
)";

/// Version 2: where an interrupted audit stopped.
constexpr const char* second_version = R"(
CREATE TABLE audit_progress(
  bag_id INTEGER NOT NULL REFERENCES bags, volume_id INTEGER NOT NULL REFERENCES volumes,
  since INTEGER NOT NULL, PRIMARY KEY(bag_id, volume_id)) WITHOUT ROWID;
CREATE TABLE audited_files(
  bag_id INTEGER NOT NULL, volume_id INTEGER NOT NULL, path TEXT NOT NULL,
  PRIMARY KEY(bag_id, volume_id, path)) WITHOUT ROWID;
)";

/// Version 3: a folder and an archive of one bag on one volume are two copies. (SQLite changes no
/// constraint of a table that stands.)
constexpr const char* third_version = R"(
ALTER TABLE events ADD COLUMN packed INTEGER NOT NULL DEFAULT 0;
DROP INDEX copies_by_volume;
ALTER TABLE copies RENAME TO copies_2;
CREATE TABLE copies(
  id INTEGER PRIMARY KEY, bag_id INTEGER NOT NULL REFERENCES bags,
  volume_id INTEGER NOT NULL REFERENCES volumes, packed INTEGER NOT NULL DEFAULT 0,
  path TEXT NOT NULL DEFAULT '', present INTEGER NOT NULL DEFAULT 0, made INTEGER, proven INTEGER,
  checked INTEGER, damaged INTEGER NOT NULL DEFAULT 0, dropped INTEGER NOT NULL DEFAULT 0,
  first_error INTEGER, last_error INTEGER, trouble TEXT NOT NULL DEFAULT '',
  UNIQUE(bag_id, volume_id, packed));
INSERT INTO copies SELECT id, bag_id, volume_id, 0, path, present, made, proven, checked, damaged,
  dropped, first_error, last_error, trouble FROM copies_2;
DROP TABLE copies_2;
CREATE INDEX copies_by_volume ON copies(volume_id);
)";

/// Version 4: what object stores said of objects when they were proven.
constexpr const char* fourth_version = R"(
CREATE TABLE object_checksums(
  volume_id INTEGER NOT NULL REFERENCES volumes, path TEXT NOT NULL, checksum TEXT NOT NULL,
  PRIMARY KEY(volume_id, path)) WITHOUT ROWID;
)";

constexpr std::array steps{first_version, second_version, third_version, fourth_version};

constexpr std::array tables{
    "volumes", "bags",           "clients",       "copies",          "frames",
    "forms",   "files",          "digest_sizes",  "words",           "events",
    "seals",   "audit_progress", "audited_files", "object_checksums"};

}  // namespace

int current_schema() {
    return static_cast<int>(steps.size());
}

void migrate_schema(sql::Database& database, int version) {
    if (database.pragma("user_version") >= version) return;
    sql::Transaction transaction(database);
    // Another program may have been faster while this one waited for the lock.
    const std::int64_t from = database.pragma("user_version");
    for (std::int64_t step = from; step < version; ++step) {
        database.run(steps[static_cast<std::size_t>(step)]);
    }
    if (from < version) {
        database.run(fmt::format("PRAGMA application_id = {}; PRAGMA user_version = {}",
                                 register_application_id, version)
                         .c_str());
    }
    transaction.commit();
}

std::string missing_table(sql::Database& database) {
    for (const char* table : tables) {
        auto query =
            database.query("SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = ?", table);
        if (!query.next()) return table;
    }
    return {};
}

}  // namespace glassine::shelf

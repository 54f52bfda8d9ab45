#pragma once

#include "shelf/sqlite.h"

/// The register's tables. docs/shelf.md explains each.
namespace glassine::shelf {

/// In the file's header, so that another program's database is never taken for a register.
inline constexpr std::int64_t register_application_id = 0x476c6173;  // "Glas"

/// The version that this program writes (PRAGMA user_version).
int current_schema();

/// Brings an empty database, or one of an older version, up to `version`, in one transaction.
void migrate_schema(sql::Database& database, int version = current_schema());

/// The first table of the current version that is not there; empty if all are.
std::string missing_table(sql::Database& database);

}  // namespace glassine::shelf

#pragma once

#include "glassine/shelf/register.h"
#include "shelf/sqlite.h"

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::shelf {

struct Register::Inside {
    Inside(io::FileSystem& file_system, const io::Path& path)
        : files(file_system), database(path.string(), sql::Database::Mode::read_write) {}

    io::FileSystem& files;
    sql::Database database;
};

/// A row of `copies` as facts.
struct CopyRow {
    std::int64_t bag_id = 0;
    CopyFacts facts;
};

/// All copies, by bag row, then volume id. The state is final: retired volumes and exchanged seals
/// are taken into account.
std::vector<CopyRow> load_copies(sql::Database& database);

/// All volumes, by id.
std::vector<VolumeFacts> load_volumes(sql::Database& database);

/// Seals of all bags, by bag name.
std::map<std::string, std::vector<SealWitness>, std::less<>> load_seals(sql::Database& database);

/// The row of a volume, made if need be.
std::int64_t volume_row(sql::Database& database, std::string_view id);
/// The row of a bag, made if need be.
std::int64_t bag_row(sql::Database& database, std::string_view name, std::string_view seal);
std::optional<std::int64_t> find_bag_row(sql::Database& database, const BagKey& bag);
/// The row of a copy, made (as not there) if need be.
std::int64_t copy_row(sql::Database& database, std::int64_t bag, std::int64_t volume, bool packed);

/// Works out anew how all copies of bags of that name and form on that volume stand.
void replay_copies(sql::Database& database, std::string_view bag_name, std::string_view volume,
                   bool packed);

/// Writes payload, rejected frames and search words of a bag.
void write_payload(sql::Database& database, std::int64_t bag, const BagRecord& record);

/// Answers where a content is held, from the copies as they stand now.
std::unique_ptr<Holdings> register_holdings(sql::Database& database);

}  // namespace glassine::shelf

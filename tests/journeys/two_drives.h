#pragma once

#include "glassine/journeys/migrate.h"
#include "support/program.h"
#include "support/sealing.h"

#include <algorithm>
#include <filesystem>
#include <string>

namespace glassine::test {

/// An old drive and an empty new one, in memory where the machine has a place for that, and
/// migrations from the one to the other.
class TwoDrives {
  public:
    TwoDrives() {
        std::filesystem::create_directories(old());
        std::filesystem::create_directories(fresh());
    }
    std::filesystem::path old() const { return folder / "old"; }
    std::filesystem::path fresh() const { return folder / "new"; }

    /// A bag of this version of the standard, written by a script from its text (tests/bagit).
    std::filesystem::path add_bag(const std::string& version, const std::string& name) const {
        std::string file = version;
        std::ranges::replace(file, '.', '_');
        const std::filesystem::path bag = old() / name;
        std::filesystem::create_directories(bag.parent_path());
        const std::string script = SOURCE_TREE "/tests/bagit/write_bag_" + file + ".py";
        REQUIRE(run({"python3", script, bag.string()}).code == 0);
        return bag;
    }

    journeys::Context context(io::FileSystem& files, const job::Studio& studio = {}) const {
        flow::Resources resources;
        resources.block_size = 64u << 10;
        resources.blocks = 24;
        resources.threads = 2;
        return {files, monitor, studio, stop.get_token(), "keeper", resources};
    }
    journeys::MigrateRequest request() const {
        journeys::MigrateRequest request;
        request.sources = {old()};
        request.to = fresh().string();
        return request;
    }

    TempFolder folder{quick_place()};
    std::stop_source stop;
    mutable journeys::SilentMonitor monitor;

  private:
    static std::filesystem::path quick_place() {
        std::error_code none;
        return std::filesystem::is_directory("/dev/shm", none) ? "/dev/shm" : "";
    }
};

}  // namespace glassine::test

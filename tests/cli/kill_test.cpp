#include "cli/glassine.h"
#include "support/effort.h"

#include <algorithm>
#include <chrono>
#include <csignal>
#include <functional>
#include <random>
#include <thread>

using namespace glassine::test;
namespace fs = std::filesystem;

/// Migrations and restores that are killed (SIGKILL) at random moments, and run again.

namespace {

using KillClock = std::chrono::steady_clock;

/// Large enough to be met in the middle.
constexpr std::size_t killed_film = 12'000'000;
constexpr int kills = sanitized ? 2 : 6;

/// Names, content and times of all files below a folder, but for its own path. A ZIP file keeps
/// times to the second only, so there they are left out.
std::string tree_of(const fs::path& root, bool times = true) {
    std::vector<std::string> lines;
    for (const auto& entry : fs::recursive_directory_iterator(root)) {
        std::string line = fs::relative(entry.path(), root).string();
        if (entry.is_regular_file())
            line += " " + std::to_string(std::hash<std::string>{}(content_of(entry.path())));
        if (entry.is_regular_file() && times)
            line += " " + std::to_string(entry.last_write_time().time_since_epoch().count());
        lines.push_back(std::move(line));
    }
    std::ranges::sort(lines);
    std::string all;
    for (const std::string& line : lines)
        all += line + "\n";
    return all;
}

/// Starts the command and kills it after a random part of `whole`.
void kill_one(const Home& home, const Arguments& arguments, std::chrono::nanoseconds whole,
              std::mt19937& random) {
    std::uniform_real_distribution<double> part(0, 1);
    RunningProgram program(home.start(arguments));
    std::this_thread::sleep_for(whole * part(random));
    program.send(SIGKILL);
    program.wait();
}

void run_to_its_end(const Home& home, const Arguments& arguments) {
    const auto again = home.glassine(arguments);
    INFO(again.out << again.err);
    REQUIRE(again.code == 0);
}

std::chrono::nanoseconds time_of(const Home& home, const Arguments& arguments) {
    const auto begin = KillClock::now();
    run_to_its_end(home, arguments);
    return KillClock::now() - begin;
}

/// What Info-ZIP's unzip makes of it.
fs::path unzipped(const Home& home, const fs::path& zip) {
    const fs::path folder = home / (zip.stem().string() + "-unzipped");
    REQUIRE(run({"unzip", "-q", zip.string(), "-d", folder.string()}).code == 0);
    return folder;
}

}  // namespace

TEST_CASE("a migration that is killed at any moment and run again ends like one clean run") {
    const Home home;
    const fs::path old = home.drive("old");
    REQUIRE(home.glassine(Home::closeout(home.job({.film_bytes = killed_film}), {old},
                                         {"--recovery", "none"}))
                .code == 0);
    REQUIRE(
        run({"python3", SOURCE_TREE "/tests/bagit/write_bag_0_97.py", (old / "2011/b").string()})
            .code == 0);
    REQUIRE(run({"tar", "-cf", "c.tar", "b"}, old / "2011").code == 0);
    const std::string before = tree_fingerprint(old);
    const auto migrate_to = [&](const fs::path& to) {
        return Arguments{"migrate", old.string(), "--to", to.string(), "--quiet"};
    };
    const fs::path clean = home.drive("clean");
    const auto whole = time_of(home, migrate_to(clean));
    std::mt19937 random(20260114);
    for (int i = 0; i < kills; ++i) {
        const fs::path to = home.drive("to-" + std::to_string(i));
        kill_one(home, migrate_to(to), whole, random);
        run_to_its_end(home, migrate_to(to));
        CHECK(tree_of(to) == tree_of(clean));
        fs::remove_all(to);
    }
    CHECK(tree_fingerprint(old) == before);
}

TEST_CASE("a restore that is killed at any moment and run again ends like one clean run") {
    const Home home;
    const fs::path drive = home.drive("drive");
    REQUIRE(home.glassine(Home::closeout(home.job({.film_bytes = killed_film}), {drive},
                                         {"--recovery", "none"}))
                .code == 0);
    const std::string before = tree_fingerprint(drive);
    const auto restore_to = [&](const fs::path& to) {
        return Arguments{
            "restore", (drive / bag_name).string(), "--to", to.string(), "--section", "all",
            "--quiet"};
    };
    std::mt19937 random(20260115);
    const fs::path clean = home / "clean";
    const auto whole = time_of(home, restore_to(clean));
    for (int i = 0; i < kills; ++i) {
        const bool packed = i % 2 == 1;
        const fs::path to = home / ("to-" + std::to_string(i) + (packed ? ".zip" : ""));
        kill_one(home, restore_to(to), whole, random);
        // A ZIP file that was finished before the kill is not replaced: it is the end already.
        if (!packed || !fs::exists(to)) run_to_its_end(home, restore_to(to));
        CHECK(tree_of(packed ? unzipped(home, to) : to, !packed) == tree_of(clean, !packed));
    }
    CHECK(tree_fingerprint(drive) == before);
}

#include "cli/glassine.h"
#include "support/effort.h"

#include <chrono>
#include <csignal>
#include <random>
#include <thread>

using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

using Clock = std::chrono::steady_clock;

/// Large enough for a close-out to be met in the middle.
constexpr std::size_t film = 24'000'000;

/// What must hold after any end of a close-out: no bag that is not valid under a bag's name, and
/// nothing else but our own leftovers.
void check_no_half_bag(const Home& home, const fs::path& drive) {
    for (const auto& entry : fs::directory_iterator(drive)) {
        const std::string name = entry.path().filename().string();
        INFO(name);
        if (name == std::string(".") + bag_name + ".glassine-staging") continue;
        REQUIRE(name == bag_name);
        const auto audit = home.glassine({"audit", entry.path().string(), "--quiet"});
        INFO(audit.out << audit.err);
        REQUIRE(audit.code == 0);
    }
}

/// Runs the close-out again: where a copy stands already it may be said so (exit 3), then the
/// drives without one get theirs.
void check_second_run(const Home& home, const fs::path& job, const std::vector<fs::path>& drives) {
    auto again = home.glassine(Home::closeout(job, drives, {"--quiet"}));
    if (again.code == 3) {
        std::vector<fs::path> open;
        for (const fs::path& drive : drives)
            if (!fs::exists(drive / bag_name)) open.push_back(drive);
        if (!open.empty()) again = home.glassine(Home::closeout(job, open, {"--quiet"}));
        if (open.empty()) again.code = 0;
    }
    INFO(again.out << again.err);
    REQUIRE(again.code == 0);
    for (const fs::path& drive : drives) {
        REQUIRE(fs::exists(drive / bag_name));
        check_no_half_bag(home, drive);
        REQUIRE(std::distance(fs::directory_iterator(drive), {}) == 1);
    }
}

}  // namespace

TEST_CASE("Ctrl-C in the middle ends with 130, and nothing stands under the bag's name") {
    const Home home;
    const fs::path job = home.job({.film_bytes = film});
    const std::string before = tree_fingerprint(job);
    const auto a = home.drive("a");
    const auto b = home.drive("b");
    for (const auto& [signal, moment] : {std::pair{SIGINT, "Reading and copying"},
                                         {SIGTERM, "Reading and copying"},
                                         {SIGINT, "Bringing the copy to the medium"},
                                         {SIGHUP, "Reading back"}}) {
        const auto ended =
            home.interrupted(Home::closeout(job, {a, b}, {"--json"}), {{moment, signal}}, [&] {
                for (const auto& drive : {a, b})
                    fs::remove_all(drive / bag_name);
            });
        INFO(moment << "\n" << ended.out << ended.err);
        REQUIRE(ended.code == 130);
        CHECK(contains(ended.err, "stopping"));
        const Json json = json_of(ended);
        CHECK(json.at("outcome") == "interrupted");
        // On a fast volume the first copy may have been finished when the signal came.
        for (const Json& copy : json.at("copies"))
            CHECK(fs::exists(copy.at("destination").get<std::string>() + "/" + bag_name) ==
                  copy.at("verified").get<bool>());
        for (const auto& drive : {a, b}) {
            check_no_half_bag(home, drive);
            CHECK((fs::is_empty(drive) || fs::exists(drive / bag_name)));
            fs::remove_all(drive / bag_name);
        }
        CHECK(tree_fingerprint(job) == before);
    }
    CHECK(home.glassine(Home::closeout(job, {a, b})).code == 0);
}

TEST_CASE("Ctrl-C during an audit ends with 130 and claims nothing") {
    const Home home;
    home.job({.film_bytes = 4 * film});
    const fs::path bag = home.sealed_bag();
    const auto ended =
        home.interrupted({"audit", bag.string(), "--json"}, {{"Checking", SIGINT}}, [] {});
    const Json json = json_of(ended);
    INFO(ended.out);
    CHECK(ended.code == 130);
    CHECK(json.at("outcome") == "interrupted");
    for (const Json& found : json.at("bags"))
        CHECK(found.at("valid").is_null());
}

TEST_CASE("a second Ctrl-C ends the program at once") {
    const Home home;
    const fs::path job = home.job({.film_bytes = film});
    const auto drive = home.drive("a");
    const auto ended = home.interrupted(Home::closeout(job, {drive}),
                                        {{"Reading and copying", SIGINT}, {"again", SIGINT}},
                                        [&] { fs::remove_all(drive / bag_name); });
    CHECK(ended.code == 130);
    CHECK_FALSE(fs::exists(drive / bag_name));
    check_second_run(home, job, {drive});
}

TEST_CASE("a reader of the output that goes away does not stop a close-out") {
    const Home home;
    const auto drive = home.drive("a");
    auto start = home.start(Home::closeout(home.job(), {drive}));
    start.no_reader = true;
    const auto ended = RunningProgram(start).wait();
    INFO(ended.err);
    CHECK(ended.signal == 0);
    CHECK(ended.code == 0);
    CHECK(home.glassine({"audit", drive.string()}).code == 0);
}

TEST_CASE("killed at fifty random moments, the next run puts everything right") {
    const Home home;
    const fs::path job = home.job({.film_bytes = film / 2});
    const std::string before = tree_fingerprint(job);
    const auto timed = [&] {
        const auto start = Clock::now();
        const auto ended = home.glassine(
            Home::closeout(job, {home.drive("timed-a"), home.drive("timed-b")}, {"--quiet"}));
        REQUIRE(ended.code == 0);
        return std::chrono::duration<double>(Clock::now() - start).count();
    };
    double whole = timed();
    std::mt19937_64 random(20250614);
    std::uniform_real_distribution<double> part(0.0, 1.0);
    int met = 0;
    const int kills = sanitized ? 10 : 50;
    for (int i = 0; i < kills; ++i) {
        const std::vector<fs::path> drives{home.drive("a"), home.drive("b")};
        RunningProgram program(home.start(Home::closeout(job, drives, {"--quiet"})));
        const double moment = whole * part(random);
        std::this_thread::sleep_for(std::chrono::duration<double>(moment));
        program.send(SIGKILL);
        const auto ended = program.wait();
        if (ended.signal == SIGKILL)
            ++met;
        else if (ended.code == 0)
            whole = moment;  // the machine is less busy than when the time was taken
        INFO("kill " << i);
        REQUIRE(tree_fingerprint(job) == before);
        for (const fs::path& drive : drives)
            check_no_half_bag(home, drive);
        // Every second time leftovers meet another kill instead of a run that clears them.
        if (i % 2 == 0) continue;
        check_second_run(home, job, drives);
        for (const fs::path& drive : drives)
            fs::remove_all(drive);
    }
    INFO(met << " of " << kills << " runs were met");
    CHECK(met * 2 >= kills);
    CHECK(tree_fingerprint(job) == before);
}

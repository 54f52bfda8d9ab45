#include "cli/glassine.h"
#include "support/flip.h"

using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

/// An old drive with a bag packed in several ways by GNU tar, and an archive that holds no bag.
struct PackedDrive {
    PackedDrive() {
        const fs::path bag = home.sealed_bag("made");
        fs::create_directories(old() / "2025");
        const auto pack = [&](const std::string& name) {
            const auto ended =
                run({"tar", "--auto-compress", "-cf", (old() / "2025" / name).string(), bag_name},
                    bag.parent_path());
            INFO(ended.err);
            REQUIRE(ended.code == 0);
        };
        pack("job.tar");
        pack("job.tar.gz");
    }
    fs::path old() const { return home / "old"; }
    RunningProgram::Ended migrate(const fs::path& to, const Arguments& more = {}) const {
        Arguments arguments{"migrate", old().string(), "--to", to.string(), "--json"};
        arguments.insert(arguments.end(), more.begin(), more.end());
        return home.glassine(arguments);
    }

    Home home;
};

}  // namespace

TEST_CASE("bags that are packed into one file are carried as they are, proven on the way") {
    const PackedDrive drive;
    const fs::path to = drive.home.drive("new");
    const std::string before = tree_fingerprint(drive.old());
    const auto ended = drive.migrate(to);
    INFO(ended.out << ended.err);
    CHECK(ended.code == 0);
    const Json json = json_of(ended);
    REQUIRE(json.at("bags").size() == 2);
    for (const Json& bag : json.at("bags"))
        CHECK(bag.at("fate") == "carried");
    CHECK(json.at("sources").at(0).at("may_go") == true);
    // GNU diffutils: the same files with the same content.
    CHECK(run({"diff", "-r", drive.old().string(), to.string()}).code == 0);
    CHECK(fs::last_write_time(to / "2025/job.tar") ==
          fs::last_write_time(drive.old() / "2025/job.tar"));
    CHECK(drive.home.glassine({"audit", to.string()}).code == 0);
    CHECK(tree_fingerprint(drive.old()) == before);

    const Json again = json_of(drive.migrate(to));
    for (const Json& bag : again.at("bags"))
        CHECK(bag.at("fate") == "already");
    flip(to / "2025/job.tar", 3000);
    CHECK(drive.migrate(to).code == 3);
}

TEST_CASE("an archive that is damaged is taken from another drive, or carried and called damaged") {
    const PackedDrive drive;
    const fs::path other = drive.home.drive("other");
    fs::copy(drive.old() / "2025/job.tar.gz", other / "job.tar.gz");
    fs::copy(drive.old() / "2025/job.tar", other / "job.tar");
    const std::string whole = content_of(other / "job.tar");
    const std::string picture =
        content_of(drive.home / "made" / bag_name / "data/web/GLS_0002.jpg");
    flip(drive.old() / "2025/job.tar", whole.find(picture) + 50);
    const auto alone = drive.migrate(drive.home.drive("one"));
    INFO(alone.out << alone.err);
    CHECK(alone.code == 1);
    CHECK(json_of(alone).at("bags").at(0).at("fate") == "damaged");
    CHECK(paths_of(json_of(alone).at("bags").at(0).at("findings"), "payload-altered").size() == 1);
    CHECK(json_of(alone).at("sources").at(0).at("may_go") == false);
    const auto helped = drive.migrate(drive.home.drive("two"), {"--from", other.string()});
    INFO(helped.out << helped.err);
    CHECK(helped.code == 0);
    CHECK(json_of(helped).at("bags").at(0).at("healed").at(0).at("from") ==
          (other / "job.tar").string());
    CHECK(content_of(drive.home / "two/2025/job.tar") == whole);
    // Run again, the healed copy is known for what it is.
    const auto again = drive.migrate(drive.home / "two", {"--from", other.string()});
    CHECK(json_of(again).at("bags").at(0).at("fate") == "already");
}

TEST_CASE("an archive without a bag is listed and not carried, whatever it is packed with") {
    const PackedDrive drive;
    fs::remove_all(drive.old() / "2025");
    fs::create_directories(drive.home / "things");
    write_file(drive.home / "things/a.txt", "a");
    const std::string here = drive.home.folder().path().string();
    REQUIRE(run({"tar", "-cf", (drive.old() / "things.tar").string(), "things"}, here).code == 0);
    REQUIRE(run({"tar", "-czf", (drive.old() / "things.tgz").string(), "things"}, here).code == 0);
    write_file(drive.old() / "broken.zip", "no archive at all");
    const fs::path to = drive.home.drive("new");
    const auto ended = drive.migrate(to);
    INFO(ended.out << ended.err);
    CHECK(ended.code == 1);
    CHECK(paths_of(json_of(ended).at("sources").at(0).at("left"), "unmapped") ==
          std::vector<std::string>{"broken.zip", "things.tar", "things.tgz"});
    CHECK(fs::is_empty(to));
}

TEST_CASE("of a drive of the shelf the bags that were not proven for longest are carried first") {
    const Home home;
    const fs::path old = home.drive("old");
    REQUIRE(home.glassine({"shelf", "add", old.string(), "--label", "OLD", "--place", "here",
                           "--kind", "drive"})
                .code == 0);
    for (const char* about : {"first", "second"})
        REQUIRE(
            home.glassine({"closeout", home.job().string(), "--to", old.string(), "--client",
                           "Holt", "--date", "2025-06-14", "--about", about, "--recovery", "none"})
                .code == 0);
    // Proven anew, the first one moves to the end.
    REQUIRE(home.glassine({"audit", (old / "2025-06-14_holt_first").string()}).code == 0);
    const Json json = json_of(
        home.glassine({"migrate", old.string(), "--to", home.drive("new").string(), "--json"}));
    CHECK(json.at("bags").at(0).at("source") == (old / "2025-06-14_holt_second").string());
}

#include "cli/glassine.h"

using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

/// The job sealed on one drive, with more options of the close-out.
void seal(const Home& home, const fs::path& drive, Arguments more) {
    more.insert(more.end(), {"--recovery", "none"});
    const auto ended = home.glassine(Home::closeout(home.job(), {drive}, more));
    INFO(ended.out << ended.err);
    REQUIRE(ended.code == 0);
}

/// "promised kept", as `shelf find` answers.
std::string dates(const Home& home, const Arguments& more = {}) {
    Arguments arguments{"shelf", "find", "gala"};
    arguments.insert(arguments.end(), more.begin(), more.end());
    const Json found = home.ask(arguments);
    REQUIRE(found.at("hits").size() == 1);
    const Json& hit = found["hits"][0];
    return hit.at("promised_until").get<std::string>() + " " +
           hit.at("keep_until").get<std::string>();
}

/// The same from a register that knows nothing but the drives.
std::string rebuilt_dates(const Home& home, const fs::path& drive) {
    const std::string other = (home / "rebuilt.db").string();
    fs::remove(other);
    home.ask({"shelf", "scan", drive.string(), "--register", other});
    return dates(home, {"--register", other});
}

}  // namespace

TEST_CASE("without a word the studio's policy gives a job its two dates") {
    const Home home;
    const fs::path drive = home.volume("a");
    seal(home, drive, {});
    CHECK(dates(home) == "2027-06-14 2035-06-14");
    write_file(home / "studio.toml", "[policy]\npromised = \"3 years\"\nkeep = \"18 months\"\n");
    CHECK(dates(home, {"--studio", (home / "studio.toml").string()}) == "2028-06-14 2026-12-14");
    CHECK_FALSE(contains(content_of(drive / bag_name / "bag-info.txt"), "Keep-Until"));
}

TEST_CASE("dates given at the close-out stand in the bag, and a rebuilt register knows them") {
    const Home home;
    const fs::path drive = home.volume("a");
    seal(home, drive, {"--promised", "2028-01-31", "--keep-until", "2040-02-29"});
    const std::string info = content_of(drive / bag_name / "bag-info.txt");
    CHECK(contains(info, "Promised-Until: 2028-01-31\n"));
    CHECK(contains(info, "Keep-Until: 2040-02-29\n"));
    CHECK(dates(home) == "2028-01-31 2040-02-29");
    CHECK(rebuilt_dates(home, drive) == "2028-01-31 2040-02-29");
    const auto text = home.glassine({"shelf", "list"});
    CHECK(
        contains(text.out, "promised to the client until 2028-01-31, to be kept until 2040-02-29"));
    CHECK(contains(text.out, "NDSA level"));
}

TEST_CASE("dates set later stand in the volumes' logs, the last word holds, and due follows") {
    const Home home;
    const fs::path drive = home.volume("a");
    seal(home, drive, {"--keep-until", "2040-02-29"});
    const std::string before = tree_fingerprint(drive / bag_name);
    const Json set = home.ask({"shelf", "dates", "holt", "gala", "--promised", "2025-07-01"});
    CHECK(set.at("bag") == bag_name);
    CHECK(set.at("promised_until") == "2025-07-01");
    CHECK(set.at("keep_until") == "2040-02-29");
    CHECK(set.at("volumes") == Json{"SHELF-a"});
    CHECK(home.ask({"shelf", "dates", bag_name, "--keep-until", "2025-08-01"}).at("keep_until") ==
          "2025-08-01");
    CHECK(dates(home) == "2025-07-01 2025-08-01");
    CHECK(rebuilt_dates(home, drive) == "2025-07-01 2025-08-01");
    CHECK(tree_fingerprint(drive / bag_name) == before);
    // Both are over by now: somebody has to decide.
    const Json due = home.ask({"shelf", "due"}, 1);
    CHECK(contains(due.dump(), "keep-ended"));
    CHECK(contains(due.dump(), "to be kept until 2025-08-01; promised until 2025-07-01"));
    // What was promised binds longer than what was meant.
    const auto longer = home.glassine({"shelf", "dates", bag_name, "--promised", "2090-01-01"});
    CHECK(longer.code == 0);
    CHECK(contains(longer.out, "kept until then"));
    CHECK_FALSE(contains(home.ask({"shelf", "due"}, 1).dump(), "keep-ended"));
}

TEST_CASE("dates that make no sense, and jobs that nobody or two answer to, are refused") {
    const Home home;
    const fs::path drive = home.volume("a");
    for (const Arguments& wrong :
         std::vector<Arguments>{{"--promised", "2027-02-30"},
                                {"--promised", "2025-06-13"},
                                {"--keep-until", "2025-06-13"},
                                {"--promised", "2030-01-01", "--keep-until", "2029-12-31"}}) {
        CHECK(home.glassine(Home::closeout(home.job(), {drive}, wrong)).code == 2);
        CHECK_FALSE(fs::exists(drive / bag_name));
    }
    seal(home, drive, {});
    const auto second = home.glassine(
        {"closeout", home.job().string(), "--to", home.volume("b").string(), "--client", "Holt",
         "--date", small_job_date, "--about", "gala again", "--recovery", "none"});
    REQUIRE(second.code == 0);
    CHECK(home.glassine({"shelf", "dates", "gala", "--promised", "2030-01-01"}).code == 3);
    CHECK(home.glassine({"shelf", "dates", "nobody", "--promised", "2030-01-01"}).code == 3);
    CHECK(home.glassine({"shelf", "dates", bag_name}).code == 2);
    CHECK(home.glassine({"shelf", "dates", bag_name, "--promised", "2025-06-13"}).code == 2);
    CHECK(home.glassine({"shelf", "dates", "again", "--promised", "2030-01-01"}).code == 0);
}

TEST_CASE("dates that no drive can be told of are in the register, with a word") {
    const Home home;
    const fs::path drive = home.volume("a");
    seal(home, drive, {});
    fs::rename(drive, home.folder().path().string() + "-away");
    const Json set = home.ask({"shelf", "dates", "gala", "--keep-until", "2050-01-01"});
    fs::remove_all(home.folder().path().string() + "-away");
    CHECK(set.at("volumes").empty());
    CHECK(paths_of(set.at("findings"), "not-recorded") == std::vector<std::string>{bag_name});
    CHECK(dates(home) == "2027-06-14 2050-01-01");
}

#include "cli/glassine.h"

using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

/// A studio with two drives on its shelf; the first holds two jobs, the second one of them.
struct FoundStudio {
    FoundStudio() {
        add("a", "cupboard B");
        add("b", "bank");
        REQUIRE(
            home.glassine(Home::closeout(home.job(), {a(), b()}, {"--recovery", "none"})).code ==
            0);
        const auto second = home.glassine({"closeout", home.job().string(), "--to", a().string(),
                                           "--client", "Åsa Lindqvist", "--date", "2024-09-07",
                                           "--about", "Sailing gala", "--recovery", "none"});
        INFO(second.out << second.err);
        REQUIRE(second.code == 0);
    }
    void add(const std::string& name, const std::string& place) const {
        REQUIRE(home.glassine({"shelf", "add", home.drive(name).string(), "--label",
                               "SHELF-" + name, "--place", place, "--kind", "drive"})
                    .code == 0);
    }
    fs::path a() const { return home / "a"; }
    fs::path b() const { return home / "b"; }
    fs::path out() const { return home / "out"; }
    RunningProgram::Ended restore(Arguments what, const Arguments& more = {}) const {
        what.insert(what.begin(), "restore");
        what.insert(what.end(), {"--to", out().string()});
        what.insert(what.end(), more.begin(), more.end());
        return home.glassine(what);
    }

    Home home;
};

constexpr const char* sailing = "2024-09-07_asa-lindqvist_sailing-gala";

}  // namespace

TEST_CASE("a job is found by words half remembered, and handed out") {
    const FoundStudio studio;
    for (const Arguments& words :
         {Arguments{"lindqvist", "sailing"}, Arguments{"lindqvist sailing"}, Arguments{"2024"},
          Arguments{"LINDKVIST"}, Arguments{sailing}}) {
        INFO(words.front());
        fs::remove_all(studio.out());
        const auto ended = studio.restore(words, {"--section", "web", "--json"});
        INFO(ended.out << ended.err);
        CHECK(ended.code == 0);
        const Json json = json_of(ended);
        CHECK(json.at("bag_name") == sailing);
        CHECK(json.at("from") == (studio.a() / sailing).string());
        CHECK(json.at("files") == 3);
        CHECK(fs::exists(studio.out() / "web/GLS_0001.jpg"));
    }
}

TEST_CASE("several jobs that answer are listed to choose from, and nothing is handed out") {
    const FoundStudio studio;
    const auto text = studio.restore({"gala"});
    INFO(text.out << text.err);
    CHECK(text.code == 1);
    CHECK(contains(text.out, sailing));
    CHECK(contains(text.out, bag_name));
    CHECK(contains(text.out, "2 jobs answer to \"gala\""));
    CHECK(contains(text.out, "glassine restore "));
    CHECK_FALSE(fs::exists(studio.out()));
    const auto ended = studio.restore({"gala"}, {"--json"});
    const Json json = json_of(ended);
    CHECK(json.at("jobs").size() == 2);
    CHECK(json.at("words") == "gala");
    CHECK(json.at("written").empty());
    // A frame of both jobs.
    const Json frame = json_of(studio.restore({"GLS_0002"}, {"--json"}));
    REQUIRE(frame.at("jobs").size() == 2);
    CHECK(frame.at("jobs").at(0).at("frames").at(0) == "GLS_0002");
    const auto nothing = studio.restore({"zeppelin"});
    CHECK(nothing.code == 3);
    CHECK(contains(nothing.err, "nothing on the shelf answers"));
}

TEST_CASE("a job whose drives are away names the one to fetch and its place") {
    const FoundStudio studio;
    fs::rename(studio.a(), studio.home / "hidden");
    fs::remove(studio.home / "hidden/glassine-volume.json");
    const auto ended = studio.restore({"sailing"});
    INFO(ended.out << ended.err);
    CHECK(ended.code == 3);
    CHECK(contains(ended.out, "fetch SHELF-a (cupboard B)"));
    const Json json = json_of(studio.restore({"sailing"}, {"--json"}));
    CHECK(json.at("from") == "");
    CHECK(json.at("jobs").at(0).at("copies").at(0).at("connected") == false);
    CHECK(json.at("jobs").at(0).at("copies").at(0).at("place") == "cupboard B");
    // The other job has a copy on a drive that is there.
    const auto other = studio.restore({"holt"}, {"--json"});
    CHECK(other.code == 0);
    CHECK(json_of(other).at("from") == (studio.b() / bag_name).string());
}

TEST_CASE("what is damaged comes from another connected copy that the shelf knows") {
    const FoundStudio studio;
    const fs::path damaged = studio.b() / bag_name / "data/web/GLS_0002.jpg";
    const std::string whole = content_of(damaged);
    write_file(damaged, "overwritten");
    const auto ended = studio.restore({(studio.b() / bag_name).string()}, {"--json"});
    INFO(ended.out << ended.err);
    CHECK(ended.code == 0);
    const Json json = json_of(ended);
    REQUIRE(json.at("healed").size() == 1);
    CHECK(json.at("healed").at(0).at("from") == (studio.a() / bag_name).string());
    CHECK(content_of(studio.out() / "web/GLS_0002.jpg") == whole);
    // With that one away, the drive to connect is named.
    fs::rename(studio.a(), studio.home / "hidden");
    fs::remove(studio.home / "hidden/glassine-volume.json");
    fs::remove_all(studio.out());
    const auto alone = studio.restore({(studio.b() / bag_name).string()});
    INFO(alone.out);
    CHECK(alone.code == 1);
    CHECK(contains(alone.out, "there is another copy on SHELF-a (cupboard B)"));
}

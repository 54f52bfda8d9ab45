#include "cli/glassine.h"

#include <cstdlib>
#include <utility>

using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

void shell(const fs::path& folder, const std::string& command) {
    INFO(command);
    REQUIRE(std::system(("cd '" + folder.string() + "' && " + command).c_str()) == 0);
}

Json audit(const Home& home, const fs::path& path, int code, Arguments more = {}) {
    more.insert(more.begin(), {"audit", path.string()});
    return home.ask(std::move(more), code);
}

std::size_t entries(const fs::path& folder) {
    return static_cast<std::size_t>(std::distance(fs::directory_iterator(folder), {}));
}

const std::string name = bag_name;
const std::string profile = SOURCE_TREE "/docs/studio-profile.json";

}  // namespace

// Outside witnesses: GNU tar and Info-ZIP's unzip; sha512sum over what they unpacked.
TEST_CASE("a job closed out into one archive file holds the bag that a folder would") {
    for (const std::string form : {"tar", "zip"}) {
        if (form == "zip" && std::system("command -v unzip > /dev/null") != 0)
            CANNOT_TEST_HERE("there is no unzip");
        const Home home;
        const fs::path job = home.job();
        const std::string before = tree_fingerprint(job);
        const auto a = home.drive("a");
        const auto ended = home.glassine(
            Home::closeout(job, {a}, {"--serialize", form, "--recovery", "5", "--json"}));
        INFO(ended.out << ended.err);
        REQUIRE(ended.code == 0);
        const Json json = json_of(ended);
        const fs::path archive = a / (name + "." + form);
        CHECK(json.at("bag_name") == name);
        REQUIRE(json.at("copies").size() == 1);
        CHECK(json["copies"][0].at("path") == archive.string());
        CHECK(json["copies"][0].at("verified") == true);
        CHECK(tree_fingerprint(job) == before);
        CHECK(entries(a) == 1);
        const Json audited = audit(home, archive, 0);
        CHECK(audited["bags"][0].at("seal") == json.at("seal"));
        CHECK(audited["bags"][0].at("findings").empty());
        shell(home.folder().path(),
              "mkdir out && cd out && " +
                  (form == "tar" ? "tar -xf '" + archive.string() + "'"
                                 : "unzip -qq '" + archive.string() + "'") +
                  " && cd " + name +
                  " && sha512sum -c --quiet manifest-sha512.txt tagmanifest-sha512.txt");
        const fs::path unpacked = home / "out" / name;
        CHECK(audit(home, unpacked, 0)["bags"][0].at("seal") == json.at("seal"));
        CHECK(content_of(unpacked / "data/originals/GLS_0001.DNG") ==
              content_of(job / "originals/GLS_0001.DNG"));
        CHECK(fs::exists(unpacked / "recovery"));
    }
}

TEST_CASE("with --keep-folder the archive stands beside the folder, both verified") {
    const Home home;
    const auto a = home.drive("a");
    const auto ended = home.glassine(
        Home::closeout(home.job(), {a}, {"--serialize", "tar", "--keep-folder", "--json"}));
    INFO(ended.out << ended.err);
    REQUIRE(ended.code == 0);
    const Json json = json_of(ended);
    REQUIRE(json.at("copies").size() == 2);
    CHECK(json["copies"][0].at("path") == (a / name).string());
    CHECK(json["copies"][1].at("path") == (a / (name + ".tar")).string());
    CHECK(entries(a) == 2);
    const Json both = audit(home, a, 0);
    REQUIRE(both.at("bags").size() == 2);
    CHECK(both["bags"][0].at("seal") == both["bags"][1].at("seal"));
}

TEST_CASE("an archive that stands already is completed by copies like it") {
    const Home home;
    const fs::path job = home.job();
    const auto a = home.drive("a");
    const auto b = home.drive("b");
    REQUIRE(home.glassine(Home::closeout(job, {a}, {"--serialize", "tar"})).code == 0);
    const std::string before = tree_fingerprint(a);
    const auto more = home.glassine(Home::closeout(job, {a, b}, {"--serialize", "tar", "--json"}));
    INFO(more.out << more.err);
    REQUIRE(more.code == 0);
    CHECK(json_of(more).at("copies").size() == 2);
    CHECK(tree_fingerprint(a) == before);
    CHECK(audit(home, a, 0)["bags"][0].at("seal") == audit(home, b, 0)["bags"][0].at("seal"));
    // All there is stands already.
    CHECK(home.glassine(Home::closeout(job, {a, b}, {"--serialize", "tar"})).code == 3);
    // A folder made from the archive.
    const auto c = home.drive("c");
    fs::copy(a / (name + ".tar"), c / (name + ".tar"));
    const auto folder =
        home.glassine(Home::closeout(job, {c}, {"--serialize", "tar", "--keep-folder"}));
    INFO(folder.out << folder.err);
    CHECK(folder.code == 0);
    CHECK(audit(home, c / name, 0)["bags"][0].at("seal") ==
          audit(home, a, 0)["bags"][0].at("seal"));
}

TEST_CASE("what stands under the archive's name and is no bag is left alone") {
    const Home home;
    const auto a = home.drive("a");
    write_file(a / (name + ".tar"), "somebody else's");
    const auto ended = home.glassine(Home::closeout(home.job(), {a}, {"--serialize", "tar"}));
    CHECK(ended.code == 3);
    CHECK(contains(ended.err, "nothing is ever replaced"));
    CHECK(content_of(a / (name + ".tar")) == "somebody else's");
    CHECK(entries(a) == 1);
}

TEST_CASE("a dry run names the archive that it would write") {
    const Home home;
    const auto a = home.drive("a");
    const auto ended =
        home.glassine(Home::closeout(home.job(), {a}, {"--serialize", "zip", "--dry-run"}));
    CHECK(ended.code == 0);
    CHECK(contains(ended.out, (a / (name + ".zip")).string()));
    CHECK(fs::is_empty(a));
}

TEST_CASE("forms that there are not, and half of a wish, are a wrong command line") {
    const Home home;
    const auto a = home.drive("a");
    CHECK(home.glassine(Home::closeout(home.job(), {a}, {"--serialize", "rar"})).code == 2);
    CHECK(home.glassine(Home::closeout(home.job(), {a}, {"--keep-folder"})).code == 2);
    CHECK(fs::is_empty(a));
}

TEST_CASE("sealed bags keep to the studio's own profile, in every form") {
    const Home home;
    const fs::path job = home.job();
    const auto a = home.drive("a");
    REQUIRE(home.glassine(Home::closeout(job, {a}, {"--serialize", "tar", "--keep-folder"})).code ==
            0);
    REQUIRE(home.glassine(Home::closeout(job, {home.drive("b")}, {"--serialize", "zip"})).code ==
            0);
    for (const fs::path& path : {a, home / "b"}) {
        const Json json = audit(home, path, 0, {"--profile", profile});
        CHECK(json.at("profile") == "urn:x-glassine:profile:photo-job:1.0");
        CHECK(json.at("findings").empty());
        for (const Json& bag : json.at("bags"))
            CHECK(bag.at("conforms") == true);
    }
    CHECK(contains(content_of(a / name / "bag-info.txt"),
                   "BagIt-Profile-Identifier: urn:x-glassine:profile:photo-job:1.0\n"));
}

TEST_CASE("a bag that does not do what a profile asks for needs attention, and is whole") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    Json wanted = Json::parse(content_of(profile));
    wanted["Bag-Info"]["Bag-Group-Identifier"] = {{"required", true}};
    wanted["Manifests-Required"] = {"md5"};
    write_file(home / "p.json", wanted.dump());
    const Json json = audit(home, bag, 1, {"--profile", (home / "p.json").string()});
    const Json& judged = json["bags"][0];
    CHECK(judged.at("valid") == true);
    CHECK(judged.at("complete") == true);
    CHECK(judged.at("conforms") == false);
    CHECK(paths_of(judged.at("findings"), "profile-mismatch") ==
          std::vector<std::string>{"bag-info.txt", "manifest-md5.txt"});
    const auto text =
        home.glassine({"audit", bag.string(), "--profile", (home / "p.json").string()});
    CHECK(contains(text.out, "does not keep to the profile"));
    CHECK_FALSE(contains(text.out, "Do not write to a drive with damage"));
    const auto quick = audit(home, bag, 1, {"--profile", (home / "p.json").string(), "--quick"});
    CHECK(quick["bags"][0].at("conforms") == false);
}

TEST_CASE("a profile that is none, or breaks its own rules") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    write_file(home / "no.json", "{");
    const auto none =
        home.glassine({"audit", bag.string(), "--profile", (home / "no.json").string()});
    CHECK(none.code == 3);
    CHECK(contains(none.err, "it is no JSON"));
    CHECK(home.glassine({"audit", bag.string(), "--profile", (home / "gone.json").string()}).code ==
          3);
    Json bad = Json::parse(content_of(profile));
    bad.erase("Accept-BagIt-Version");
    write_file(home / "bad.json", bad.dump());
    const Json json = audit(home, bag, 1, {"--profile", (home / "bad.json").string()});
    CHECK(json["bags"][0].at("conforms") == true);
    CHECK(paths_of(json.at("findings"), "profile-malformed").size() == 1);
}

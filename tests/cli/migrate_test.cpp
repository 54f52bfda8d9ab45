#include "cli/glassine.h"

#include <sstream>

using namespace glassine::test;
namespace fs = std::filesystem;

TEST_CASE("migrate carries a drive of bags and states what may go") {
    const Home home;
    const fs::path bag = home.sealed_bag("old");
    const auto to = home.drive("new");
    const auto text = home.glassine({"migrate", (home / "old").string(), "--to", to.string()});
    INFO(text.out << text.err);
    CHECK(text.code == 0);
    CHECK(contains(text.out, "carried"));
    CHECK(contains(text.out, "everything on it is accounted for"));
    CHECK(home.glassine({"audit", to.string()}).code == 0);
    // GNU diffutils: the same files with the same content.
    CHECK(run({"diff", "-r", (home / "old").string(), to.string()}).code == 0);
    write_file(home / "old/price list.txt", "prices");
    const auto again =
        home.glassine({"migrate", (home / "old").string(), "--to", to.string(), "--json"});
    CHECK(again.code == 1);
    const Json json = json_of(again);
    CHECK(json.at("outcome") == "attention");
    CHECK(json.at("bags").at(0).at("fate") == "already");
    CHECK(json.at("bags").at(0).at("verified") == true);
    CHECK(json.at("sources").at(0).at("may_go") == false);
    CHECK(paths_of(json.at("sources").at(0).at("left"), "unmapped") ==
          std::vector<std::string>{"price list.txt"});
}

TEST_CASE("migrate refuses what makes no sense, and writes nothing") {
    const Home home;
    home.sealed_bag("old");
    const std::string old = (home / "old").string();
    const std::string empty = home.drive("empty").string();
    CHECK(home.glassine({"migrate", old}).code == 2);
    CHECK(home.glassine({"migrate", old, "--to", old}).code == 2);
    CHECK(home.glassine({"migrate", old, "--to", (home / "missing").string()}).code == 3);
    CHECK(home.glassine({"migrate", empty, "--to", old}).code == 3);
    CHECK(home.glassine({"migrate", (home / "missing").string(), "--to", empty}).code == 3);
    CHECK(fs::is_empty(empty));
}

TEST_CASE("migrate adopts plain folders, upgrades old bags, and writes the statement as a page") {
    const Home home;
    write_small_job(home / "old/2014-06-14 Maren Holt - Gala");
    const std::string script = SOURCE_TREE "/tests/bagit/write_bag_0_97.py";
    REQUIRE(run({"python3", script, (home / "old/bag").string()}).code == 0);
    const auto to = home.drive("new");
    const fs::path page = home / "statement.html";
    const auto ended =
        home.glassine({"migrate", (home / "old").string(), "--to", to.string(), "--adopt",
                       "--upgrade", "--recovery", "none", "--html", page.string(), "--json"});
    INFO(ended.out << ended.err);
    CHECK(ended.code == 0);
    const Json json = json_of(ended);
    REQUIRE(json.at("bags").size() == 2);
    CHECK(json.at("bags").at(0).at("fate") == "upgraded");
    CHECK(json.at("bags").at(1).at("fate") == "adopted");
    CHECK(json.at("sources").at(0).at("may_go") == true);
    CHECK(contains(content_of(page), "Everything on it is accounted for."));
    CHECK(home.glassine({"audit", to.string()}).code == 0);
    CHECK(fs::exists(to / "2014-06-14_maren-holt_gala/data/web/GLS_0001.jpg"));
    const auto refused = home.glassine({"migrate", (home / "old").string(), "--to", to.string(),
                                        "--adopt", "--html", page.string()});
    CHECK(refused.code == 3);
}

TEST_CASE("migrate and restore write themselves down, and the statement asks the policy") {
    const Home home;
    const auto volume = [&](const std::string& name, const char* kind) {
        const fs::path root = home.drive(name);
        REQUIRE(home.glassine({"shelf", "add", root.string(), "--label", "SHELF-" + name, "--place",
                               "cupboard " + name, "--kind", kind})
                    .code == 0);
        return root;
    };
    const fs::path old = volume("old", "drive");
    const fs::path a = volume("a", "drive");
    const fs::path b = volume("b", "server");
    const fs::path c = volume("c", "offsite");
    REQUIRE(home.glassine(Home::closeout(home.job(), {old}, {"--recovery", "none"})).code == 0);
    const auto migrate = [&](const fs::path& to) {
        const auto ended = home.glassine({"migrate", old.string(), "--to", to.string(), "--json"});
        INFO(ended.out << ended.err);
        CHECK(ended.code == 0);
        return json_of(ended);
    };
    const std::string log_before = content_of(old / "glassine-events.jsonl");
    const Json first = migrate(a);
    CHECK(first.at("findings").empty());
    CHECK(first.at("bags").at(0).at("copies") == 1);
    CHECK(first.at("bags").at(0).at("lacks").size() == 3);
    CHECK(first.at("sources").at(0).at("may_go") == true);
    CHECK(first.at("sources").at(0).at("policy_lets_go") == false);
    migrate(b);
    const Json third = migrate(c);
    CHECK(third.at("bags").at(0).at("copies") == 3);
    CHECK(third.at("sources").at(0).at("policy_lets_go") == true);
    // The old drive is only read, its log too.
    CHECK(content_of(old / "glassine-events.jsonl") == log_before);

    const auto types = [](const fs::path& drive) {
        std::string types;
        std::istringstream lines(content_of(drive / "glassine-events.jsonl"));
        for (std::string line; std::getline(lines, line);)
            types += Json::parse(line).at("type").get<std::string>() + "; ";
        return types;
    };
    CHECK(types(a) == "accession; replication; fixity check; ");
    REQUIRE(
        home.glassine({"restore", (a / bag_name).string(), "--to", (home / "out").string()}).code ==
        0);
    CHECK(types(a) == "accession; replication; fixity check; dissemination; ");
    // A second run proves the copy again, and says so.
    CHECK(migrate(a).at("bags").at(0).at("fate") == "already");
    CHECK(types(a) == "accession; replication; fixity check; dissemination; fixity check; ");

    // A register rebuilt from the drives knows the same.
    const auto state = [&] {
        const Json list = json_of(home.glassine({"shelf", "list", "--json"}));
        std::string states;
        for (const Json& copy : list.at("bags").at(0).at("copies"))
            states += copy.at("label").get<std::string>() + copy.at("state").get<std::string>() +
                      copy.at("proven").get<std::string>() + " ";
        return states;
    };
    const std::string kept = state();
    fs::remove_all(home / "home/glassine");
    REQUIRE(home.glassine({"shelf", "scan", home.folder().path().string()}).code == 0);
    CHECK(state() == kept);
}

TEST_CASE("a bag that was exchanged since it was sealed is carried with that finding") {
    const Home home;
    const fs::path old = home.drive("old");
    REQUIRE(home.glassine({"shelf", "add", old.string(), "--label", "OLD", "--place", "here",
                           "--kind", "drive"})
                .code == 0);
    REQUIRE(home.glassine(Home::closeout(home.job(), {old}, {"--recovery", "none"})).code == 0);
    // Content and manifests changed together: coreutils' sha512sum writes the manifests.
    write_file(old / bag_name / "bag-info.txt",
               content_of(old / bag_name / "bag-info.txt") + "Note: another\n");
    REQUIRE(run({"sh", "-c",
                 "find . -type f -not -path './data/*' -not -name 'tagmanifest*' -printf '%P\\n' | "
                 "LC_ALL=C sort | xargs -d '\\n' sha512sum > tagmanifest-sha512.txt"},
                old / bag_name)
                .code == 0);
    const auto ended = home.glassine(
        {"migrate", old.string(), "--to", home.drive("new").string(), "--upgrade", "--json"});
    INFO(ended.out << ended.err);
    CHECK(ended.code == 1);
    const Json bag = json_of(ended).at("bags").at(0);
    CHECK(bag.at("fate") == "damaged");
    CHECK(paths_of(bag.at("findings"), "replaced-since-sealed").size() == 1);
}

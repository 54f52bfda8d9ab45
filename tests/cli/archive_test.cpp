#include "cli/glassine.h"

#include <cstdlib>
#include <fstream>
#include <utility>

using namespace glassine::test;
namespace fs = std::filesystem;

// Bags that GNU tar and Python's zipfile packed.
namespace {

void shell(const fs::path& folder, const std::string& command) {
    REQUIRE(std::system(("cd '" + folder.string() + "' && " + command).c_str()) == 0);
}

Json audit(const Home& home, const fs::path& path, int code, Arguments more = {}) {
    more.insert(more.begin(), {"audit", path.string()});
    return home.ask(std::move(more), code);
}

const std::string name = bag_name;

}  // namespace

TEST_CASE("a sealed bag that was packed into one file is audited there") {
    const Home home;
    const fs::path drive = home.sealed_bag().parent_path();
    shell(drive, "tar -cf " + name + ".tar " + name + " && tar -czf " + name + ".tar.gz " + name +
                     " && python3 -m zipfile -c " + name + ".zip " + name);
    for (const auto& [ending, type] :
         {std::pair(".tar", "application/x-tar"), std::pair(".tar.gz", "application/gzip"),
          std::pair(".zip", "application/zip")}) {
        const Json json = audit(home, drive / (name + ending), 0);
        REQUIRE(json.at("bags").size() == 1);
        const Json& bag = json["bags"][0];
        CHECK(bag.at("archive") == type);
        CHECK(bag.at("name") == bag_name);
        CHECK(bag.at("valid") == true);
        CHECK(bag.at("files") == 13);
        CHECK(bag.at("seal") == audit(home, drive / name, 0)["bags"][0].at("seal"));
    }
    CHECK(audit(home, drive, 0).at("bags").size() == 4);
    const Json quick = audit(home, drive / (name + ".tar.gz"), 0, {"--quick"});
    CHECK(quick["bags"][0].at("valid").is_null());
    CHECK(quick["bags"][0].at("complete") == true);
}

TEST_CASE("damage inside an archive names the picture") {
    const Home home;
    const fs::path drive = home.sealed_bag().parent_path();
    const std::string picture = "data/originals/GLS_0001.DNG";
    shell(drive, "mv " + name + " kept && cp -r kept " + name + " && printf X | dd of=" + name +
                     "/" + picture + " bs=1 seek=3000 conv=notrunc status=none && tar -cf " + name +
                     ".tar " + name + " && tar -czf " + name + ".tar.gz " + name + " && rm -r " +
                     name);
    for (const std::string ending : {".tar", ".tar.gz"}) {
        const Json json = audit(home, drive / (name + ending), 1);
        CHECK(paths_of(json["bags"][0]["findings"], "payload-altered") ==
              std::vector<std::string>{picture});
        CHECK(json["bags"][0].at("complete") == true);
        CHECK(json["bags"][0].at("valid") == false);
    }
}

TEST_CASE("inspect shows what is in a packed bag") {
    const Home home;
    const fs::path drive = home.sealed_bag().parent_path();
    shell(drive, "tar -czf " + name + ".tar.gz " + name + " && tar -cf " + name + ".tar " + name);
    const Json folder = json_of(home.glassine({"inspect", (drive / name).string(), "--json"}));
    for (const std::string ending : {".tar", ".tar.gz"}) {
        const auto ended = home.glassine({"inspect", (drive / (name + ending)).string(), "--json"});
        CHECK(ended.code == 0);
        const Json json = json_of(ended);
        CHECK(json.at("sections") == folder.at("sections"));
        CHECK(json.at("info") == folder.at("info"));
        CHECK(json["bag"].at("name") == bag_name);
    }
    const auto text = home.glassine({"inspect", (drive / (name + ".tar")).string()});
    CHECK(contains(text.out, "Client-Name: Maren Holt"));
}

TEST_CASE("archives that hold no bag are left aside on a drive, and refused by name") {
    const Home home;
    const fs::path drive = home.sealed_bag().parent_path();
    shell(drive, "mkdir things && echo a > things/a && tar -cf things.tar things && rm -r things");
    const Json json = audit(home, drive, 0);
    CHECK(json.at("bags").size() == 1);
    CHECK(paths_of(json.at("findings"), "archive-malformed").size() == 1);
    CHECK(audit(home, drive / "things.tar", 1)["bags"][0].at("complete") == false);
    CHECK(home.glassine({"inspect", (drive / "things.tar").string()}).code == 3);
    fs::remove_all(drive / name);
    CHECK(home.glassine({"audit", drive.string()}).code == 3);
    // A broken archive may have held a bag: it is not passed over.
    shell(drive, "head -c 700 things.tar > broken.tar");
    CHECK(audit(home, drive, 1).at("bags").size() == 1);
}

TEST_CASE("hostile archives leave everything as it is") {
    const Home home;
    fs::create_directories(home / "received");
    shell(home / "received", "python3 -W ignore " SOURCE_TREE "/tests/bagit/write_archives.py .");
    const std::string before = tree_fingerprint(home / "received");
    const Json json = audit(home, home / "received", 1);
    CHECK(json.at("bags").size() > 90);
    CHECK(tree_fingerprint(home / "received") == before);
    for (const char* gone : {"evil", "outside", "data"})
        CHECK_FALSE(fs::exists(home / gone));
}

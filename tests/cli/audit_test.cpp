#include "cli/glassine.h"
#include "support/flip.h"

#include <algorithm>

using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

Json audit(const Home& home, const fs::path& path, int code, const Arguments& more = {}) {
    Arguments arguments{"audit", path.string(), "--json"};
    arguments.insert(arguments.end(), more.begin(), more.end());
    const auto ended = home.glassine(arguments);
    INFO(ended.out << ended.err);
    CHECK(ended.code == code);
    return json_of(ended);
}

void grow(const fs::path& file) {
    const auto size = fs::file_size(file);
    fs::resize_file(file, size + 1);
}

/// The one finding of a bag that weighs, as "kind path".
std::vector<std::string> damage(const Json& bag) {
    std::vector<std::string> out;
    for (const Json& f : bag.at("findings"))
        if (f.at("severity") == "damage")
            out.push_back(f.at("kind").get<std::string>() + " " + f.at("path").get<std::string>());
    std::ranges::sort(out);
    return out;
}

}  // namespace

TEST_CASE("the audit's JSON keeps the contract") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    const Json json = audit(home, bag, 0);
    CHECK(json.at("command") == "audit");
    CHECK(json.at("glassine").is_string());
    CHECK(json.at("started").is_string());
    CHECK(json.at("finished").is_string());
    CHECK(json.at("outcome") == "ok");
    REQUIRE(json.at("bags").size() == 1);
    const Json& found = json["bags"][0];
    CHECK(found.at("path") == bag.string());
    CHECK(found.at("name") == bag_name);
    CHECK(found.at("bagit_version") == "1.0");
    CHECK(found.at("complete") == true);
    CHECK(found.at("valid") == true);
    CHECK(found.at("files") == 13);
    std::uintmax_t bytes = 0;
    for (const auto& entry : fs::recursive_directory_iterator(bag / "data"))
        if (entry.is_regular_file()) bytes += entry.file_size();
    CHECK(found.at("bytes") == bytes);
    CHECK(found.at("findings").is_array());
    CHECK(damage(found).empty());
}

TEST_CASE("a quick audit proves nothing and says so") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    flip(bag / "data/originals/GLS_0001.DNG", 100);
    const Json json = audit(home, bag, 0, {"--quick"});
    CHECK(json.at("quick") == true);
    CHECK(json["bags"][0].at("complete") == true);
    CHECK(json["bags"][0].at("valid").is_null());
    const auto text = home.glassine({"audit", bag.string(), "--quick"});
    CHECK(text.code == 0);
    CHECK(contains(text.out, "nothing is proven"));
    fs::remove(bag / "data/originals/GLS_0001.DNG");
    const Json missing = audit(home, bag, 1, {"--quick"});
    CHECK(missing["bags"][0].at("complete") == false);
    CHECK(missing["bags"][0].at("valid").is_null());
}

TEST_CASE("an audit walks a drive of bags and tells each by itself") {
    const Home home;
    const fs::path bag = home.sealed_bag("drive");
    fs::create_directories(home / "drive/older");
    fs::copy(bag, home / "drive/older/first", fs::copy_options::recursive);
    fs::copy(bag, home / "drive/older/second", fs::copy_options::recursive);
    flip(home / "drive/older/second/data/web/GLS_0001.jpg", 200);
    const Json json = audit(home, home / "drive", 1);
    CHECK(json.at("outcome") == "attention");
    REQUIRE(json.at("bags").size() == 3);
    std::map<std::string, bool> valid;
    for (const Json& found : json["bags"])
        valid[found.at("name")] = found.at("valid");
    CHECK(valid ==
          std::map<std::string, bool>{{bag_name, true}, {"first", true}, {"second", false}});
    const auto text = home.glassine({"audit", (home / "drive").string()});
    CHECK(text.code == 1);
    CHECK(contains(text.out, "1 need"));
    CHECK(contains(text.out, "data/web/GLS_0001.jpg"));
    // The same bag named twice is looked at once.
    CHECK(audit(home, home / "drive", 1, {(home / "drive/older").string()})["bags"].size() == 3);
}

TEST_CASE("every kind of damage is named for what it is") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    const auto check = [&](const std::vector<std::string>& expected) {
        const Json json = audit(home, bag, 1);
        CHECK(json.at("outcome") == "attention");
        CHECK(json["bags"][0].at("valid") == false);
        CHECK(damage(json["bags"][0]) == expected);
    };
    SECTION("altered") {
        flip(bag / "data/originals/GLS_0002.DNG", 5);
        check({"payload-altered data/originals/GLS_0002.DNG"});
    }
    SECTION("truncated") {
        fs::resize_file(bag / "data/print/GLS_0001.jpg", 1000);
        check({"oxum-mismatch bag-info.txt", "payload-altered data/print/GLS_0001.jpg"});
    }
    SECTION("grown") {
        grow(bag / "data/print/GLS_0001.jpg");
        check({"oxum-mismatch bag-info.txt", "payload-altered data/print/GLS_0001.jpg"});
    }
    SECTION("emptied") {
        write_file(bag / "data/print/GLS_0001.jpg", "");
        check({"oxum-mismatch bag-info.txt", "payload-altered data/print/GLS_0001.jpg"});
    }
    SECTION("deleted") {
        fs::remove(bag / "data/web/GLS_0003.jpg");
        check({"oxum-mismatch bag-info.txt", "payload-missing data/web/GLS_0003.jpg"});
    }
    SECTION("added") {
        write_file(bag / "data/web/extra.jpg", "more");
        check({"oxum-mismatch bag-info.txt", "payload-unlisted data/web/extra.jpg"});
    }
    SECTION("renamed") {
        fs::rename(bag / "data/web/GLS_0003.jpg", bag / "data/web/best.jpg");
        const Json json = audit(home, bag, 1);
        CHECK(damage(json["bags"][0]) ==
              std::vector<std::string>{"payload-moved data/web/GLS_0003.jpg"});
        CHECK(contains(json["bags"][0]["findings"].dump(), "data/web/best.jpg"));
    }
    SECTION("moved to another folder") {
        fs::rename(bag / "data/web/GLS_0003.jpg", bag / "data/print/web.jpg");
        check({"payload-moved data/web/GLS_0003.jpg"});
    }
    SECTION("swapped") {
        fs::rename(bag / "data/web/GLS_0001.jpg", bag / "aside");
        fs::rename(bag / "data/web/GLS_0002.jpg", bag / "data/web/GLS_0001.jpg");
        fs::rename(bag / "aside", bag / "data/web/GLS_0002.jpg");
        check({"payload-altered data/web/GLS_0001.jpg", "payload-altered data/web/GLS_0002.jpg"});
    }
    SECTION("a tag file altered") {
        write_file(bag / "HOW-TO-VERIFY.txt", content_of(bag / "HOW-TO-VERIFY.txt") + "\n");
        check({"tag-altered HOW-TO-VERIFY.txt"});
    }
    SECTION("a tag file deleted") {
        fs::remove(bag / "events.jsonl");
        check({"tag-missing events.jsonl"});
    }
    SECTION("a line lost from the manifest") {
        const std::string manifest = content_of(bag / "manifest-sha512.txt");
        write_file(bag / "manifest-sha512.txt", manifest.substr(manifest.find('\n') + 1));
        check({"payload-unlisted data/originals/GLS_0001.DNG", "tag-altered manifest-sha512.txt"});
    }
    SECTION("a folder lost") {
        fs::remove_all(bag / "data/print");
        check({"oxum-mismatch bag-info.txt", "payload-missing data/print/GLS_0001.jpg",
               "payload-missing data/print/GLS_0002.jpg",
               "payload-missing data/print/GLS_0003.jpg"});
    }
    SECTION("several at once: all are told, not only the first") {
        flip(bag / "data/originals/GLS_0001.DNG", 7);
        flip(bag / "data/originals/GLS_0003.DNG", 9);
        fs::remove(bag / "data/print/GLS_0002.jpg");
        write_file(bag / "data/notes.txt", "new");
        check({"oxum-mismatch bag-info.txt", "payload-altered data/originals/GLS_0001.DNG",
               "payload-altered data/originals/GLS_0003.DNG",
               "payload-missing data/print/GLS_0002.jpg", "payload-unlisted data/notes.txt"});
    }
    SECTION("a link instead of a file") {
        fs::rename(bag / "data/web/GLS_0001.jpg", home / "outside.jpg");
        fs::create_symlink(home / "outside.jpg", bag / "data/web/GLS_0001.jpg");
        const Json json = audit(home, bag, 1);
        CHECK(paths_of(json["bags"][0]["findings"], "special-file") ==
              std::vector<std::string>{"data/web/GLS_0001.jpg"});
        CHECK(json["bags"][0].at("valid") == false);
    }
}

TEST_CASE("an audit changes nothing, not even times of reading folders") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    flip(bag / "data/originals/GLS_0002.DNG", 5);
    const std::string before = tree_fingerprint(home.folder().path());
    audit(home, bag, 1);
    CHECK(tree_fingerprint(home.folder().path()) == before);
}

TEST_CASE("an audit of what is no bag says so") {
    const Home home;
    const auto none = home.glassine({"audit", home.drive("empty").string()});
    CHECK(none.code == 3);
    CHECK(contains(none.err, "there is no bag at or below it"));
    CHECK(home.glassine({"audit", (home / "absent").string()}).code == 3);
    write_file(home / "file", "no folder");
    CHECK(home.glassine({"audit", (home / "file").string()}).code != 0);
}

TEST_CASE("a quiet audit has no word for what is whole, and all words for what is not") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    const auto whole = home.glassine({"audit", bag.string(), "--quiet"});
    CHECK(whole.code == 0);
    CHECK(whole.out.empty());
    CHECK(whole.err.empty());
    flip(bag / "data/originals/GLS_0002.DNG", 5);
    const auto damaged = home.glassine({"audit", bag.string(), "--quiet"});
    CHECK(damaged.code == 1);
    CHECK(contains(damaged.out, "data/originals/GLS_0002.DNG"));
    CHECK(damaged.err.empty());
}

TEST_CASE("names in a bag do not drive the terminal") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    write_file(bag / "data/web/\x1b[2J\xe2\x80\xae.jpg", "clear the screen");
    const auto text = home.glassine({"audit", bag.string(), "--color", "never"});
    CHECK(text.code == 1);
    CHECK_FALSE(contains(text.out + text.err, "\x1b"));
    CHECK_FALSE(contains(text.out + text.err, "\xe2\x80\xae"));
    CHECK(contains(text.out, "\\x1b"));
    write_file(bag / "data/web/not-utf-8-\xff.jpg", "raw bytes");
    CHECK(contains(audit(home, bag, 1).dump(), "path_hex"));
}

TEST_CASE("inspect shows what is in a bag without hashing") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    const auto ended = home.glassine({"inspect", bag.string(), "--json"});
    CHECK(ended.code == 0);
    const Json json = json_of(ended);
    CHECK(json.at("command") == "inspect");
    CHECK(json.at("outcome") == "ok");
    CHECK(json.at("bag").at("name") == bag_name);
    CHECK(json.at("bag").at("valid").is_null());
    CHECK(json.at("sections").size() == 4);
    bool client = false;
    for (const Json& element : json.at("info"))
        client = client ||
                 (element.at("label") == "Client-Name" && element.at("value") == "Tomas Brandvik");
    CHECK(client);
    const auto text = home.glassine({"inspect", bag.string()});
    CHECK(text.code == 0);
    CHECK(contains(text.out, "Maren Holt"));
    CHECK(
        contains(text.out, "Seal: " + json.at("bag").at("seal").get<std::string>().substr(0, 16)));
    CHECK(contains(text.out, "not hashed"));
    // Altered content is not inspect's to find; a missing file is.
    flip(bag / "data/originals/GLS_0002.DNG", 5);
    CHECK(home.glassine({"inspect", bag.string()}).code == 0);
    fs::remove(bag / "data/originals/GLS_0002.DNG");
    CHECK(home.glassine({"inspect", bag.string()}).code == 1);
    CHECK(home.glassine({"inspect", home.job().string()}).code == 3);
}

TEST_CASE("a bag that has lost its bagit.txt does not go unseen on its drive") {
    const Home home;
    const fs::path bag = home.sealed_bag("drive");
    fs::copy(bag, home / "drive/second", fs::copy_options::recursive);
    fs::remove(home / "drive/second/bagit.txt");
    const Json json = audit(home, home / "drive", 1);
    REQUIRE(json.at("bags").size() == 2);
    CHECK(json["bags"][1].at("complete") == false);
    CHECK(paths_of(json["bags"][1].at("findings"), "declaration-missing").size() == 1);
}

TEST_CASE("what an interrupted close-out left is no bag, and is mentioned") {
    const Home home;
    const fs::path bag = home.sealed_bag("drive");
    const std::string staging = std::string(".") + bag_name + "-two.glassine-staging";
    fs::create_directories(home / "drive" / staging);
    fs::copy(bag, home / "drive" / staging / "bag", fs::copy_options::recursive);
    fs::remove(home / "drive" / staging / "bag/data/web/GLS_0001.jpg");
    const Json json = audit(home, home / "drive", 0);
    CHECK(json.at("bags").size() == 1);
    REQUIRE(json.at("findings").size() == 1);
    CHECK(json["findings"][0].at("severity") == "note");
    CHECK(contains(json["findings"][0].at("path"), staging));
    fs::remove_all(bag);
    CHECK(home.glassine({"audit", (home / "drive").string()}).code == 3);
}

TEST_CASE("a drive may be named through a link") {
    const Home home;
    const fs::path bag = home.sealed_bag("drive");
    fs::create_directory_symlink(home / "drive", home / "link");
    CHECK(audit(home, home / "link", 0).at("bags").size() == 1);
    fs::create_directory_symlink(bag, home / "bag-link");
    CHECK(audit(home, home / "bag-link", 0).at("bags").size() == 1);
    CHECK(home.glassine({"inspect", (home / "bag-link").string()}).code == 0);
}

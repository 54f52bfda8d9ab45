#include "cli/glassine.h"

#include <algorithm>
#include <utility>

using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

Json clear(const Home& home, const fs::path& path, int code, Arguments more = {}) {
    more.insert(more.begin(), {"clear", path.string()});
    const Json json = home.ask(std::move(more), code);
    CHECK(json.at("clear") == (code == 0));
    return json;
}

/// Two volumes with a copy of the job each.
struct Sealed {
    explicit Sealed(const Home& home)
        : a(home.volume("a", "drive", "office")), b(home.volume("b", "drive", "bank")) {
        const auto ended =
            home.glassine(Home::closeout(home.job(), {a, b}, {"--recovery", "none"}));
        INFO(ended.out << ended.err);
        REQUIRE(ended.code == 0);
    }
    fs::path a;
    fs::path b;
};

/// A card with what came from the camera: kept and rejected raws, as in the job.
fs::path card_of(const Home& home) {
    const fs::path dcim = home / "card/DCIM/100GLASS";
    fs::create_directories(dcim);
    for (const char* folder : {"originals", "rejects"})
        for (const auto& entry : fs::recursive_directory_iterator(home.job() / folder))
            if (entry.path().extension() == ".DNG" || entry.path().extension() == ".dng")
                fs::copy(entry.path(), dcim / entry.path().filename());
    REQUIRE(std::distance(fs::directory_iterator(dcim), {}) == 4);
    return home / "card";
}

}  // namespace

TEST_CASE("a card is clear when every frame is sealed twice, rejected ones by their proxies") {
    const Home home;
    const fs::path card = card_of(home);
    // Before anything is sealed nothing may go.
    const Json none = clear(home, card, 1);
    CHECK(none.at("files") == 4);
    CHECK(none.at("held") == 0);
    CHECK(paths_of(none.at("findings"), "not-held").size() == 4);
    const Sealed sealed(home);
    const std::string before = tree_fingerprint(card);
    const Json json = clear(home, card, 0);
    CHECK(json.at("command") == "clear");
    CHECK(json.at("files") == 4);
    CHECK(json.at("held") == 4);
    CHECK(json.at("copies") == 2);
    CHECK(json.at("signed_by").is_null());
    CHECK(contains(json.at("weaknesses").dump(), "a proxy is held"));
    CHECK(tree_fingerprint(card) == before);
    const auto text = home.glassine({"clear", card.string()});
    CHECK(contains(text.out, "clear"));
    CHECK(contains(text.out, "Nobody has signed"));
    // coreutils give the same digest of the list.
    const auto sums = run({"sh", "-c",
                           "find . -type f -printf '%P\\n' | LC_ALL=C sort | xargs -d '\\n' "
                           "sha512sum | sha512sum | cut -d' ' -f1"},
                          card);
    CHECK(sums.out == json.at("list_sha512").get<std::string>() + "\n");
}

TEST_CASE("one frame that is held nowhere keeps a card from being cleared, and is named") {
    const Home home;
    const Sealed sealed(home);
    const fs::path card = card_of(home);
    write_file(card / "DCIM/100GLASS/GLS_0099.DNG", noise(5000, 9));
    const Json json = clear(home, card, 1);
    CHECK(json.at("held") == 4);
    CHECK(json.at("files") == 5);
    CHECK(paths_of(json.at("findings"), "not-held") ==
          std::vector<std::string>{"DCIM/100GLASS/GLS_0099.DNG"});
    const auto quiet = home.glassine({"clear", card.string(), "--quiet"});
    CHECK(quiet.code == 1);
    CHECK(contains(quiet.out, "GLS_0099.DNG"));
    CHECK(contains(quiet.out, "do not wipe"));
}

TEST_CASE("more copies than there are, damaged ones and the medium's own do not count") {
    const Home home;
    const Sealed sealed(home);
    const fs::path card = card_of(home);
    const Json three = clear(home, card, 1, {"--copies", "3"});
    CHECK(paths_of(three.at("findings"), "held-too-seldom").size() == 4);
    CHECK(home.glassine({"clear", card.string(), "--copies", "0"}).code == 2);
    // The drive itself holds one of the two.
    const Json own = clear(home, sealed.b, 1);
    CHECK_FALSE(paths_of(own.at("findings"), "held-too-seldom").empty());
    const Json one = clear(home, sealed.b, 0, {"--copies", "1"});
    CHECK(one.at("held") == one.at("files"));  // tag files too: the other copy has the same seal
    // A copy that was found damaged holds nothing.
    write_file(sealed.b / bag_name / "data/web/GLS_0001.jpg", "rotten");
    CHECK(home.glassine({"audit", sealed.b.string()}).code == 1);
    CHECK(clear(home, card, 1).at("held") == 0);
    CHECK(clear(home, card, 0, {"--copies", "1"}).at("held") == 4);
}

TEST_CASE("a card is compared with plain folders after the first transfer") {
    const Home home;
    const fs::path card = card_of(home);
    write_file(card / ".DS_Store", "left by a computer");
    const fs::path ingest = home / "ingest";
    fs::copy(card, ingest, fs::copy_options::recursive);
    const Arguments against{"--against", ingest.string(), "--copies", "1"};
    const Json json = clear(home, card, 0, against);
    CHECK(json.at("files") == 4);
    CHECK(paths_of(json.at("findings"), "system-junk").size() == 1);
    // Two folders on one file system are one volume.
    fs::copy(card, home / "second", fs::copy_options::recursive);
    clear(home, card, 1, {"--against", ingest.string(), "--against", (home / "second").string()});
    // One byte.
    std::string content = content_of(ingest / "DCIM/100GLASS/GLS_0002.DNG");
    content[100] = static_cast<char>(content[100] ^ 1);
    write_file(ingest / "DCIM/100GLASS/GLS_0002.DNG", content);
    CHECK(paths_of(clear(home, card, 1, against).at("findings"), "not-held") ==
          std::vector<std::string>{"DCIM/100GLASS/GLS_0002.DNG"});
    // What is to be wiped is no place to compare with.
    CHECK(home.glassine({"clear", card.string(), "--against", (card / "DCIM").string()}).code == 2);
    CHECK(home.glassine({"clear", card.string(), "--against", (home / "absent").string()}).code ==
          3);
}

TEST_CASE("a folder on one drive and a sealed copy on another are two") {
    const Home home;
    const Sealed sealed(home);
    const fs::path card = card_of(home);
    const fs::path other = home.volume("c", "drive", "studio");
    fs::copy(card, other / "ingest", fs::copy_options::recursive);
    const Json json =
        clear(home, card, 0, {"--copies", "3", "--against", (other / "ingest").string()});
    // The rejected raw itself lies in the folder, its proxy in the two copies.
    CHECK(json.at("held") == 4);
    CHECK(json.at("findings").empty());
}

TEST_CASE("an empty medium is not clear: more often than not it is not mounted") {
    const Home home;
    clear(home, home.drive("card"), 1);
    CHECK(home.glassine({"clear", (home / "absent").string()}).code == 3);
    write_file(home / "file", "no folder");
    CHECK(home.glassine({"clear", (home / "file").string()}).code == 2);
}

TEST_CASE("only who is named in the studio file gets the written clearance") {
    const Home home;
    const Sealed sealed(home);
    const fs::path card = card_of(home);
    write_file(home / "studio.toml", "[studio]\nclears_media = [\"Ines Marrow\", \"keeper\"]\n");
    const Arguments studio{"--studio", (home / "studio.toml").string()};
    const Json json = clear(home, card, 0, studio);
    CHECK(json.at("signed_by") == "keeper");
    for (const fs::path& drive : {sealed.a, sealed.b}) {
        const std::string log = content_of(drive / "glassine-events.jsonl");
        CHECK(contains(log, "signed by keeper"));
        CHECK(contains(log, json.at("list_sha512").get<std::string>()));
    }
    // Nothing is signed that is not clear.
    write_file(card / "more.dng", "new");
    CHECK(clear(home, card, 1, studio).at("signed_by").is_null());
    CHECK_FALSE(fs::exists(card / "glassine-events.jsonl"));
}

TEST_CASE("what cannot be read on a medium keeps it from being cleared") {
    const Home home;
    const Sealed sealed(home);
    const fs::path card = card_of(home);
    fs::create_symlink("elsewhere", card / "link");
    CHECK(clear(home, card, 0).at("findings").size() == 1);
    // A wastebasket may hold pictures.
    fs::create_directories(card / ".Trashes/501");
    write_file(card / ".Trashes/501/GLS_0042.DNG", noise(2000, 3));
    CHECK(paths_of(clear(home, card, 1).at("findings"), "not-held") ==
          std::vector<std::string>{".Trashes/501/GLS_0042.DNG"});
}

TEST_CASE("the answer names the jobs that hold what may go, and until when they are kept") {
    const Home home;
    const Sealed sealed(home);
    const fs::path card = card_of(home);
    const Json json = clear(home, card, 0);
    REQUIRE(json.at("jobs").size() == 1);
    CHECK(json["jobs"][0].at("bag") == bag_name);
    CHECK(json["jobs"][0].at("files") == 4);
    CHECK(json["jobs"][0].at("promised_until") == "2027-06-14");
    CHECK(json["jobs"][0].at("keep_until") == "2035-06-14");
    CHECK(json.at("weaknesses").size() == 1);  // a proxy stands for the rejected raw
    const auto text = home.glassine({"clear", card.string()});
    CHECK(contains(text.out, "promised to the client until 2027-06-14, to be kept until"));
    // A job that may be let go any day is a weak place.
    home.ask(
        {"shelf", "dates", bag_name, "--promised", "2025-07-01", "--keep-until", "2025-08-01"});
    const Json over = clear(home, card, 0);
    CHECK(contains(over.at("weaknesses").dump(), "whose time ended on 2025-08-01"));
}

TEST_CASE("how many copies a file needs is the policy's, unless it is said") {
    const Home home;
    const Sealed sealed(home);
    const fs::path card = card_of(home);
    CHECK(clear(home, card, 0).at("copies") == 2);
    for (const auto& [policy, copies] :
         {std::pair("clear_copies = 3", 3), {"copies = 1\noff_site = 0", 1}}) {
        write_file(home / "studio.toml", std::string("[policy]\n") + policy + "\n");
        const Arguments studio{"--studio", (home / "studio.toml").string()};
        CHECK(clear(home, card, copies > 2 ? 1 : 0, studio).at("copies") == copies);
    }
    CHECK(clear(home, card, 1, {"--studio", (home / "studio.toml").string(), "--copies", "3"})
              .at("copies") == 3);
}

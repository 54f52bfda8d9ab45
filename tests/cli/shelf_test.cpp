#include "cli/glassine.h"
#include "support/flip.h"

#include <algorithm>

using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

fs::path register_of(const Home& home) {
    return home / "home/glassine/register.db";
}

fs::path sealed_on(const Home& home, const std::vector<fs::path>& drives) {
    const auto ended = home.glassine(Home::closeout(home.job(), drives, {"--recovery", "none"}));
    INFO(ended.out << ended.err);
    REQUIRE(ended.code == 0);
    return drives.front() / bag_name;
}

/// The state of the copy on that volume.
std::string state_on(const Json& list, const std::string& label) {
    for (const Json& bag : list.at("bags"))
        for (const Json& copy : bag.at("copies"))
            if (copy.at("label") == label) return copy.at("state");
    return "";
}

/// All that a list says, but for what differs from run to run.
std::string essence(Json list) {
    for (const char* key : {"started", "finished", "register", "findings"})
        list.erase(key);
    return list.dump(1);
}

std::vector<std::string> kinds_due(const Json& due) {
    std::vector<std::string> kinds;
    for (const Json& item : due.at("due"))
        kinds.push_back(item.at("kind"));
    return kinds;
}

/// Replaces content and manifests together, as a hand would that knows the format: afterwards the
/// bag fits together. coreutils' sha512sum writes the manifests.
void exchange(const fs::path& bag) {
    write_file(bag / "data/web/GLS_0001.jpg", "another picture");
    const auto ended = run(
        {"sh", "-c",
         "sed -i 's/^Payload-Oxum: .*/Payload-Oxum: '$(find data -type f -printf '%s\\n' | awk "
         "'{s+=$1; n++} END {print s\".\"n}')'/' bag-info.txt && find data -type f | LC_ALL=C sort "
         "| xargs -d '\\n' sha512sum > manifest-sha512.txt && find . -type f -not -path './data/*' "
         "-not -name 'tagmanifest*' -printf '%P\\n' | LC_ALL=C sort | xargs -d '\\n' sha512sum > "
         "tagmanifest-sha512.txt"},
        bag);
    INFO(ended.err);
    REQUIRE(ended.code == 0);
}

}  // namespace

TEST_CASE("a close-out, an audit and a scan fill the register, and it answers") {
    const Home home;
    const fs::path a = home.volume("a");
    const fs::path b = home.volume("b", "offsite", "bank");
    CHECK(fs::exists(a / "glassine-volume.json"));
    CHECK(fs::exists(register_of(home)));
    sealed_on(home, {a, b});

    const Json list = home.ask({"shelf", "list"});
    REQUIRE(list.at("volumes").size() == 2);
    REQUIRE(list.at("bags").size() == 1);
    const Json& bag = list["bags"][0];
    CHECK(bag.at("bag") == bag_name);
    CHECK(bag.at("clients") == Json{"Maren Holt", "Tomas Brandvik"});
    CHECK(bag.at("files") == 13);
    REQUIRE(bag.at("copies").size() == 2);
    CHECK(state_on(list, "SHELF-a") == "whole");
    CHECK(state_on(list, "SHELF-b") == "whole");
    CHECK(bag.at("storage_level") == 1);
    CHECK(bag.at("integrity_level").get<int>() >= 2);

    for (const char* words :
         {"brandvik gala", "BRÄNDVIK", "june 2025", "GLS_0002", "harbor gala"}) {
        INFO(words);
        const Json found = home.ask({"shelf", "find", words});
        REQUIRE(found.at("hits").size() == 1);
        CHECK(found["hits"][0].at("bag") == bag_name);
    }
    const auto text = home.glassine({"shelf", "find", "holt", "--quiet"});
    CHECK(contains(text.out, "fetch SHELF-"));
    home.ask({"shelf", "find", "nobody"}, 1);

    // Two copies where three are promised: that is due, with the command to type.
    const Json due = home.ask({"shelf", "due"}, 1);
    REQUIRE(kinds_due(due) == std::vector<std::string>{"too-few-copies"});
    CHECK(contains(due["due"][0].at("to_type"), "glassine migrate"));

    // sqlite3 reads the register: whatever became of this program.
    const auto sql = run({"sqlite3", register_of(home).string(),
                          "PRAGMA integrity_check; SELECT count(*) FROM files"});
    if (sql.code == 127) CANNOT_TEST_HERE("sqlite3 is not here");
    CHECK(sql.out == "ok\n14\n");  // 13 payload files and the digest of a rejected raw
}

TEST_CASE("a register rebuilt from the drives equals the one that was kept") {
    const Home home;
    const fs::path a = home.volume("a");
    const fs::path b = home.volume("b", "server", "office");
    const fs::path bag = sealed_on(home, {a, b});
    flip(b / bag_name / "data/web/GLS_0001.jpg", 100);
    CHECK(home.glassine({"audit", a.string()}).code == 0);
    CHECK(home.glassine({"audit", b.string()}).code == 1);
    const Json kept = home.ask({"shelf", "list"});
    CHECK(state_on(kept, "SHELF-b") == "damaged");

    const fs::path other = home / "other.db";
    const Json scan =
        home.ask({"shelf", "scan", a.string(), b.string(), "--register", other.string()});
    CHECK(scan.at("volumes").size() == 2);
    CHECK(paths_of(scan.at("findings"), "register-new").size() == 1);
    const Json rebuilt = home.ask({"shelf", "list", "--register", other.string()});
    CHECK(essence(rebuilt) == essence(kept));

    // Scanning again changes nothing, neither here nor on the drives.
    const std::string before = tree_fingerprint(a);
    const Json again =
        home.ask({"shelf", "scan", home.folder().path().string(), "--register", other.string()});
    for (const Json& scanned : again.at("volumes"))
        CHECK(scanned.at("new_events") == 0);
    CHECK(essence(home.ask({"shelf", "list", "--register", other.string()})) == essence(kept));
    CHECK(tree_fingerprint(a) == before);
}

TEST_CASE("a damaged register is named, never replaced, and rebuilt by a scan") {
    const Home home;
    const fs::path a = home.volume("a");
    const fs::path bag = sealed_on(home, {a});
    const Json kept = home.ask({"shelf", "list"});
    fs::remove(register_of(home).string() + "-wal");
    fs::remove(register_of(home).string() + "-shm");
    write_file(register_of(home), noise(40'000, 5));

    const auto list = home.glassine({"shelf", "list"});
    CHECK(list.code == 3);
    CHECK(contains(list.err, "shelf scan"));
    // A good close-out stays good, and says what it could not write down.
    const auto audit = home.ask({"audit", a.string()});
    CHECK(paths_of(audit.at("findings"), "not-recorded").size() == 1);
    fs::remove_all(bag);
    Arguments again = Home::closeout(home.job(), {a}, {"--recovery", "none"});
    const Json closeout = home.ask(again);
    CHECK(closeout.at("copies")[0].at("verified") == true);
    REQUIRE(paths_of(closeout.at("findings"), "not-recorded").size() == 1);
    CHECK(contains(closeout.at("findings").dump(), "shelf scan"));
    CHECK(content_of(register_of(home)) == noise(40'000, 5));

    const Json scan = home.ask({"shelf", "scan", a.string()});
    CHECK(contains(scan.at("set_aside"), ".damaged-"));
    CHECK(content_of(scan.at("set_aside").get<std::string>()) == noise(40'000, 5));
    const Json rebuilt = home.ask({"shelf", "list"});
    // The drive's log knows the bag that was removed as well, where its seal was another.
    CHECK(contains(rebuilt.at("bags").dump(), "\"whole\""));
    CHECK(rebuilt["volumes"][0].at("id") == kept["volumes"][0].at("id"));
}

TEST_CASE(
    "a copy on no volume of the shelf is sealed all the same, and a word says what is missing") {
    const Home home;
    const fs::path drive = home.drive("plain");
    const Json closeout = home.ask(Home::closeout(home.job(), {drive}, {"--recovery", "none"}));
    const auto unknown = paths_of(closeout.at("findings"), "volume-unknown");
    REQUIRE(unknown.size() == 1);
    CHECK(unknown[0] == fs::canonical(drive).string());
    CHECK_FALSE(fs::exists(register_of(home)));
    const Json scan = home.ask({"shelf", "scan", drive.string()}, 1);
    CHECK(contains(scan.at("findings").dump(), "shelf add"));
    // With an identity, a scan takes in what stood there before.
    home.volume("plain");
    CHECK(home.ask({"shelf", "scan", drive.string()}).at("volumes")[0].at("bags") == 1);
    CHECK(state_on(home.ask({"shelf", "list"}), "SHELF-plain") == "unproven");
    CHECK(kinds_due(home.ask({"shelf", "due"}, 1)) ==
          std::vector<std::string>{"too-few-copies", "audit-overdue"});
    CHECK(home.ask({"audit", drive.string()}).at("outcome") == "ok");
    CHECK(state_on(home.ask({"shelf", "list"}), "SHELF-plain") == "whole");
}

TEST_CASE("content and manifests exchanged together are found by the seal") {
    const Home home;
    const fs::path a = home.volume("a");
    const fs::path b = home.volume("b");
    sealed_on(home, {a, b});
    exchange(b / bag_name);
    const Json audit = home.ask({"audit", b.string()}, 1);
    REQUIRE(audit.at("bags").size() == 1);
    CHECK(audit["bags"][0].at("complete") == true);
    CHECK(audit["bags"][0].at("valid") == true);
    CHECK(paths_of(audit["bags"][0].at("findings"), "replaced-since-sealed").size() == 1);
    const auto text = home.glassine({"audit", b.string()});
    CHECK(text.code == 1);
    CHECK(contains(text.out, "REPLACED"));
    const Json list = home.ask({"shelf", "list"});
    REQUIRE(list.at("bags").size() == 1);
    std::vector<std::string> states;
    for (const Json& copy : list["bags"][0].at("copies"))
        if (copy.at("label") == "SHELF-b") states.push_back(copy.at("state"));
    std::ranges::sort(states);
    CHECK(states == std::vector<std::string>{"missing", "replaced"});
    CHECK(state_on(list, "SHELF-a") == "whole");
    const Json due = home.ask({"shelf", "due"}, 1);
    CHECK(kinds_due(due).front() == "damaged-copy");
    // The other copy is as it was sealed; a rebuilt register knows it as well.
    CHECK(home.ask({"audit", a.string()}).at("outcome") == "ok");
    const std::string other = (home / "other.db").string();
    home.ask({"shelf", "scan", a.string(), b.string(), "--register", other});
    const Json again = home.ask({"audit", b.string(), "--register", other}, 1);
    CHECK(paths_of(again["bags"][0].at("findings"), "replaced-since-sealed").size() == 1);
}

TEST_CASE("a tag manifest that rots is damage, not an exchange") {
    const Home home;
    const fs::path a = home.volume("a");
    const fs::path bag = sealed_on(home, {a});
    flip(bag / "tagmanifest-sha512.txt", 3);
    const Json audit = home.ask({"audit", a.string()}, 1);
    CHECK(paths_of(audit["bags"][0].at("findings"), "replaced-since-sealed").empty());
    const Json list = home.ask({"shelf", "list"});
    REQUIRE(list.at("bags").size() == 1);
    REQUIRE(list["bags"][0].at("copies").size() == 1);
    CHECK(state_on(list, "SHELF-a") == "damaged");
}

TEST_CASE("a volume is recognised wherever it stands, and a cloned one is noticed") {
    const Home home;
    const fs::path a = home.volume("a");
    sealed_on(home, {a});
    const fs::path moved = home / "elsewhere";
    fs::rename(a, moved);
    CHECK(home.ask({"audit", moved.string()}).at("outcome") == "ok");
    Json list = home.ask({"shelf", "list"});
    REQUIRE(list.at("volumes").size() == 1);
    CHECK(list["volumes"][0].at("root") == fs::canonical(moved).string());

    fs::copy(moved, home / "clone", fs::copy_options::recursive);
    const Json scan = home.ask({"shelf", "scan", moved.string(), (home / "clone").string()}, 1);
    CHECK(paths_of(scan.at("findings"), "volume-cloned").size() == 1);
    CHECK(scan.at("volumes").size() == 1);
    home.ask({"shelf", "add", (home / "clone").string(), "--new-identity", "--label", "SHELF-c"});
    CHECK(home.ask({"shelf", "scan", moved.string(), (home / "clone").string()})
              .at("volumes")
              .size() == 2);
    list = home.ask({"shelf", "list"});
    CHECK(list.at("volumes").size() == 2);
    CHECK(list["bags"][0].at("copies").size() == 2);
}

TEST_CASE("what is known of a volume can be changed, and a dead one is taken out of service") {
    const Home home;
    const fs::path a = home.volume("a");
    const fs::path b = home.volume("b");
    sealed_on(home, {a, b});
    CHECK(home.glassine(
                  {"shelf", "add", a.string(), "--label", "X", "--place", "Y", "--kind", "drive"})
              .code == 3);
    const Json changed =
        home.ask({"shelf", "add", a.string(), "--change", "--place", "bank, box 12"});
    CHECK(changed.at("volume").at("place") == "bank, box 12");
    CHECK(changed["volume"].at("label") == "SHELF-a");
    CHECK(changed["volume"].at("kind") == "drive");

    fs::remove_all(b);
    const Json retired = home.ask({"shelf", "retire", "shelf-B"});
    CHECK(retired.at("bags") == Json{bag_name});
    CHECK(state_on(home.ask({"shelf", "list"}), "SHELF-b") == "retired");
    // The other drive's own log tells it to a rebuilt register.
    CHECK(contains(content_of(a / "glassine-events.jsonl"), "out of service"));
    CHECK(home.glassine({"shelf", "retire", "SHELF-nowhere"}).code == 3);
}

TEST_CASE("a bag that is gone from a drive that was looked through is missed") {
    const Home home;
    const fs::path a = home.volume("a");
    const fs::path b = home.volume("b");
    const fs::path bag = sealed_on(home, {a, b});
    fs::rename(bag, home / "taken");
    const Json scan = home.ask({"shelf", "scan", a.string()});
    CHECK(paths_of(scan.at("findings"), "copy-lost").size() == 1);
    CHECK(state_on(home.ask({"shelf", "list"}), "SHELF-a") == "missing");
    fs::rename(home / "taken", bag);
    CHECK(home.ask({"shelf", "scan", a.string()}).at("findings").empty());
    CHECK(state_on(home.ask({"shelf", "list"}), "SHELF-a") == "whole");
}

TEST_CASE("a volume whose log cannot be written is audited, and the register remembers it") {
    const Home home;
    const fs::path a = home.volume("a");
    sealed_on(home, {a});
    fs::remove(a / "glassine-events.jsonl");
    fs::create_directory(a / "glassine-events.jsonl");
    const Json audit = home.ask({"audit", a.string()});
    CHECK(paths_of(audit.at("findings"), "not-recorded").size() == 1);
    CHECK(state_on(home.ask({"shelf", "list"}), "SHELF-a") == "whole");
}

TEST_CASE("two programs record at once") {
    const Home home;
    const fs::path a = home.volume("a");
    const fs::path b = home.volume("b");
    sealed_on(home, {a, b});
    RunningProgram one(home.start({"audit", a.string()}));
    RunningProgram two(home.start({"audit", b.string()}));
    RunningProgram three(home.start({"shelf", "scan", a.string(), b.string()}));
    CHECK(one.wait().code == 0);
    CHECK(two.wait().code == 0);
    CHECK(three.wait().code == 0);
    const Json list = home.ask({"shelf", "list"});
    CHECK(state_on(list, "SHELF-a") == "whole");
    CHECK(state_on(list, "SHELF-b") == "whole");
}

TEST_CASE("hostile names go through the register and come out harmless") {
    const Home home;
    const fs::path a = home.drive("it's\n\"quoted\" \xe2\x80\xae");
    const std::string label = "'; DROP TABLE bags; --\n\xe2\x80\xae";
    home.ask({"shelf", "add", a.string(), "--label", label, "--place", "\"", "--kind", "drive"});
    sealed_on(home, {a});
    fs::rename(a / bag_name, a / "bag '\n\xd7\xa9");
    home.ask({"shelf", "scan", a.string()});
    const Json list = home.ask({"shelf", "list"});
    REQUIRE(list.at("volumes").size() == 1);
    CHECK(list["volumes"][0].at("label") == label);
    CHECK(home.ask({"shelf", "find", "'; DROP TABLE"}, 1).at("hits").empty());
    for (const Arguments& command : {Arguments{"shelf", "list"}, Arguments{"shelf", "due"},
                                     Arguments{"shelf", "find", "holt"}}) {
        const auto text = home.glassine(command);
        CHECK_FALSE(contains(text.out, "\xe2\x80\xae"));
    }
}

TEST_CASE("the shelf is written as a page, and drives get labels") {
    const Home home;
    const fs::path a = home.volume("a");
    const fs::path b = home.volume("b", "offsite", "bank");
    sealed_on(home, {a, b});
    const std::string page = (home / "shelf.html").string();
    const Json overview = home.ask({"shelf", "overview", "--html", page});
    CHECK(overview.at("html") == page);
    CHECK(overview.at("bags") == 1);
    CHECK(overview.at("volumes") == 2);
    CHECK(overview.at("due") == 1);
    CHECK(contains(content_of(page), "Maren Holt, Tomas Brandvik"));
    CHECK(contains(content_of(page), "● SHELF-a"));
    const auto again = home.glassine({"shelf", "overview", "--html", page});
    CHECK(again.code == 3);
    CHECK(contains(again.err, "nothing is ever replaced"));
    CHECK(home.glassine({"shelf", "overview"}).code == 2);

    // By label, by path and by id; one named twice is there once.
    const std::string id = home.ask({"shelf", "list"}).at("volumes")[0].at("id");
    const std::string sheet = (home / "labels.html").string();
    const Json labels =
        home.ask({"shelf", "label", "shelf-A", b.string(), id, "--html", sheet}).at("labels");
    REQUIRE(labels.size() == 2);
    CHECK(labels[0].at("label") == "SHELF-a");
    CHECK(labels[1].at("place") == "bank");
    CHECK(labels[0].at("retired").is_null());
    REQUIRE(labels[0].at("jobs").size() == 1);
    CHECK(labels[0]["jobs"][0].at("bag") == bag_name);
    // The seal is what coreutils' sha512sum prints for the tag manifest.
    const std::string seal =
        run({"sha512sum", (a / bag_name / "tagmanifest-sha512.txt").string()}).out.substr(0, 128);
    CHECK(labels[0]["jobs"][0].at("seal") == seal);
    CHECK(contains(content_of(sheet), seal.substr(0, 12)));
    // A year after the copy was read back: the default of the policy.
    const std::string today = overview.at("started").get<std::string>().substr(0, 10);
    CHECK(labels[0].at("next_audit").get<std::string>().substr(0, 4) ==
          std::to_string(std::stoi(today.substr(0, 4)) + 1));

    const std::string svg = (home / "a.svg").string();
    const auto one = home.glassine({"shelf", "label", "SHELF-a", "--svg", svg, "--quiet"});
    CHECK(one.code == 0);
    CHECK(contains(one.out, "next audit "));
    CHECK(contains(content_of(svg), "SHELF-a"));
    const auto two =
        home.glassine({"shelf", "label", "SHELF-a", "SHELF-b", "--svg", (home / "b.svg").string()});
    CHECK(two.code == 2);
    CHECK(contains(two.err, "a drawing holds one label"));
    CHECK_FALSE(fs::exists(home / "b.svg"));
    CHECK(home.glassine({"shelf", "label", "SHELF-nowhere"}).code == 3);
    // Out of service: no audit any more.
    home.ask({"shelf", "retire", "SHELF-b"});
    const Json dead = home.ask({"shelf", "label", "SHELF-b"}).at("labels")[0];
    CHECK(dead.at("retired") == today);
    CHECK(dead.at("next_audit").is_null());
}

TEST_CASE("the shelf's commands explain themselves") {
    const Home home;
    const auto help = home.glassine({"shelf", "--help"});
    CHECK(help.code == 0);
    for (const char* command :
         {"add", "list", "scan", "find", "due", "overview", "label", "retire"}) {
        INFO(command);
        CHECK(contains(help.out, command));
        const auto own = home.glassine({"shelf", command, "--help"});
        CHECK(own.code == 0);
        CHECK(contains(own.out, "Examples:"));
        CHECK(contains(own.out, "--register"));
    }
    CHECK(home.glassine({"shelf"}).code == 2);
    const auto typo = home.glassine({"shelf", "lits"});
    CHECK(typo.code == 2);
    CHECK(contains(typo.err, "did you mean \"list\""));
    CHECK(home.glassine({"shelf", "add", home.drive("a").string(), "--label", "A"}).code == 2);
    CHECK(home.glassine({"shelf", "add", home.drive("a").string(), "--label", "A", "--place", "B",
                         "--kind", "card"})
              .code == 2);
    CHECK(home.glassine({"shelf", "list"}).code == 3);
    CHECK(home.glassine({"shelf", "add", (home / "absent").string(), "--label", "A", "--place", "B",
                         "--kind", "drive"})
              .code == 3);
}

#include "cli/glassine.h"

#include <regex>

using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

/// RFC 3339, UTC, whole seconds.
bool is_moment(const Json& value) {
    static const std::regex form(R"(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ)");
    return value.is_string() && std::regex_match(value.get<std::string>(), form);
}

std::string joined(const fs::path& folder) {
    std::string out;
    for (const auto& entry : fs::directory_iterator(folder))
        out += entry.path().filename().string() + "\n";
    return out;
}

}  // namespace

TEST_CASE("a job closed out onto two drives stands there twice, the same") {
    const Home home;
    const fs::path job = home.job();
    const std::string before = tree_fingerprint(job);
    const auto a = home.drive("a");
    const auto b = home.drive("b");
    const auto ended = home.glassine(Home::closeout(job, {a, b}));
    INFO(ended.out << ended.err);
    CHECK(ended.code == 0);
    CHECK(contains(ended.out, "3 prints"));
    CHECK(contains(ended.out, "sealed"));
    CHECK(contains(ended.out, "two copies verified"));
    CHECK(contains(ended.out, (a / bag_name).string()));
    CHECK(tree_fingerprint(job) == before);
    CHECK(tree_fingerprint(a / bag_name) == tree_fingerprint(b / bag_name));
    CHECK(joined(a) == std::string(bag_name) + "\n");
    CHECK(joined(b) == std::string(bag_name) + "\n");
}

TEST_CASE("a bag holds the job's files with their content and times") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    for (const auto& [from, to] :
         {std::pair{"originals/GLS_0001.DNG", "data/originals/GLS_0001.DNG"},
          {"originals/GLS_0001.xmp", "data/originals/GLS_0001.xmp"},
          {"print/GLS_0002.jpg", "data/print/GLS_0002.jpg"},
          {"web/GLS_0003.jpg", "data/web/GLS_0003.jpg"},
          {"rejects/GLS_0004.JPG", "data/reject-proxies/GLS_0004.JPG"}}) {
        INFO(from);
        CHECK(content_of(home.job() / from) == content_of(bag / to));
        CHECK(fs::last_write_time(home.job() / from) == fs::last_write_time(bag / to));
    }
    CHECK_FALSE(fs::exists(bag / "data/reject-proxies/GLS_0004.DNG"));
    for (const char* name : {"bagit.txt", "bag-info.txt", "manifest-sha512.txt",
                             "tagmanifest-sha512.txt", "HOW-TO-VERIFY.txt", "events.jsonl"})
        CHECK(fs::is_regular_file(bag / name));
}

TEST_CASE("bag-info.txt says whose job it is") {
    const Home home;
    const auto ended = home.glassine(
        Home::closeout(home.job(), {home.drive("a")}, {"--job-number", "HG-2025-17"}));
    REQUIRE(ended.code == 0);
    const std::string info = content_of(home / "a" / bag_name / "bag-info.txt");
    for (const char* line : {"External-Description: Harbour gala\n",
                             "External-Identifier: HG-2025-17\n", "Client-Name: Maren Holt\n",
                             "Client-Name: Tomas Brandvik\n", "Shoot-Date: 2025-06-14\n"}) {
        INFO(info);
        CHECK(contains(info, line));
    }
    CHECK(contains(info, "Payload-Oxum: "));
}

TEST_CASE("the close-out's JSON keeps the contract") {
    const Home home;
    const auto a = home.drive("a");
    const auto b = home.drive("b");
    const auto ended = home.glassine(Home::closeout(home.job(), {a, b}, {"--json"}));
    CHECK(ended.code == 0);
    const Json json = json_of(ended);
    CHECK(json.at("command") == "closeout");
    CHECK(json.at("glassine").is_string());
    CHECK(is_moment(json.at("started")));
    CHECK(is_moment(json.at("finished")));
    CHECK(json.at("outcome") == "ok");
    CHECK(json.at("bag_name") == bag_name);
    CHECK(json.at("seal").get<std::string>().size() == 128);
    REQUIRE(json.at("copies").size() == 2);
    for (std::size_t i = 0; i < 2; ++i) {
        const Json& copy = json["copies"][i];
        const fs::path drive = i == 0 ? a : b;
        CHECK(copy.at("destination") == drive.string());
        CHECK(copy.at("path") == (drive / bag_name).string());
        CHECK(copy.at("verified") == true);
        CHECK(copy.at("how").is_string());
    }
    std::map<std::string, int> files;
    for (const Json& section : json.at("sections")) {
        files[section.at("section")] = section.at("files");
        CHECK(section.at("bytes").is_number_unsigned());
    }
    CHECK(files ==
          std::map<std::string, int>{{"originals", 6}, {"print", 3}, {"web", 3}, {"rejects", 1}});
    CHECK(json.at("findings").is_array());
    for (const Json& finding : json.at("findings")) {
        CHECK(finding.at("kind").is_string());
        CHECK(finding.at("path").is_string());
        CHECK(finding.at("detail").is_string());
        CHECK((finding.at("severity") == "note" || finding.at("severity") == "warning"));
    }
    // The seal is the SHA-512 of the tag manifest, which `sha512sum` (coreutils) can tell.
    const auto sum = run({"sha512sum", (a / bag_name / "tagmanifest-sha512.txt").string()});
    CHECK(sum.out.substr(0, 128) == json.at("seal"));
}

TEST_CASE("with --json messages go to standard error only, with --quiet nowhere") {
    const Home home;
    const auto loud = home.glassine(Home::closeout(home.job(), {home.drive("a")}, {"--json"}));
    CHECK(Json::accept(loud.out));
    CHECK_FALSE(loud.err.empty());
    const auto quiet =
        home.glassine(Home::closeout(home.job(), {home.drive("b")}, {"--json", "--quiet"}));
    CHECK(Json::accept(quiet.out));
    CHECK(quiet.err.empty());
    const auto silent = home.glassine(Home::closeout(home.job(), {home.drive("c")}, {"--quiet"}));
    CHECK(silent.code == 0);
    CHECK(silent.out.empty());
    CHECK(silent.err.empty());
}

TEST_CASE("a dry run tells all that would be done and writes nothing") {
    const Home home;
    const auto drive = home.drive("a");
    const std::string before = tree_fingerprint(home.folder().path() / "a");
    const auto text = home.glassine(Home::closeout(home.job(), {drive}, {"--dry-run"}));
    CHECK(text.code == 0);
    CHECK(contains(text.out, "would"));
    CHECK(contains(text.out, (drive / bag_name).string()));
    const auto ended = home.glassine(Home::closeout(home.job(), {drive}, {"--dry-run", "--json"}));
    const Json json = json_of(ended);
    CHECK(json.at("outcome") == "ok");
    CHECK(json.at("dry_run") == true);
    CHECK(json.at("seal").is_null());
    CHECK(json.at("copies").at(0).at("verified") == false);
    CHECK(json.at("sections").size() == 4);
    CHECK(tree_fingerprint(drive) == before);
    CHECK(fs::is_empty(drive));
}

TEST_CASE("sections may lie elsewhere") {
    const Home home;
    write_small_job(home / "elsewhere");
    const fs::path job = home.drive("project");
    const auto at = [&](const char* name) { return (home / "elsewhere" / name).string(); };
    const auto ended =
        home.glassine(Home::closeout(job, {home.drive("a")},
                                     {"--originals", at("originals"), "--print", at("print"),
                                      "--web", at("web"), "--rejects", at("rejects")}));
    INFO(ended.out << ended.err);
    CHECK(ended.code == 0);
    CHECK(fs::exists(home / "a" / bag_name / "data/originals/GLS_0001.DNG"));
    CHECK(fs::exists(home / "a" / bag_name / "data/reject-proxies/GLS_0004.JPG"));
}

TEST_CASE("what operating systems leave behind stays behind and is told") {
    const Home home;
    const fs::path job = home.job();
    write_file(job / "originals/.DS_Store", std::string(64, '\0'));
    write_file(job / "print/Thumbs.db", "thumbs");
    const auto ended = home.glassine(Home::closeout(job, {home.drive("a")}, {"--json"}));
    CHECK(ended.code == 0);
    const Json json = json_of(ended);
    CHECK(paths_of(json.at("findings"), "system-junk") ==
          std::vector<std::string>{"originals/.DS_Store", "print/Thumbs.db"});
    CHECK_FALSE(fs::exists(home / "a" / bag_name / "data/originals/.DS_Store"));
}

TEST_CASE("names come through with their spaces, letters and per cent signs") {
    const Home home;
    const fs::path job = home.job();
    for (const char* name : {"Jørgen's notes.txt", "50% crop.txt", "two\nlines.txt", "日本.txt"})
        write_file(job / "originals" / name, std::string("about ") + name);
    const auto ended = home.glassine(Home::closeout(job, {home.drive("a")}, {"--json"}));
    INFO(ended.out);
    CHECK(ended.code == 0);
    const fs::path bag = home / "a" / bag_name;
    CHECK(content_of(bag / "data/originals/two\nlines.txt") == "about two\nlines.txt");
    const std::string manifest = content_of(bag / "manifest-sha512.txt");
    // RFC 8493 §2.1.3: LF, CR and % in paths are percent-encoded.
    CHECK(contains(manifest, "data/originals/two%0Alines.txt\n"));
    CHECK(contains(manifest, "data/originals/50%25 crop.txt\n"));
    CHECK(contains(manifest, "data/originals/Jørgen's notes.txt\n"));
    CHECK(home.glassine({"audit", bag.string()}).code == 0);
}

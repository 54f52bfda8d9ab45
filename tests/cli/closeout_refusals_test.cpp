#include "cli/glassine.h"

#include <sstream>

#include <sys/stat.h>

using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

/// Nothing but what was there stands in the folder: no bag, no leftovers.
void check_untouched(const fs::path& drive) {
    INFO(drive);
    CHECK(fs::is_empty(drive));
}

/// One line, in the program's voice, that says what to do next.
void check_message(const RunningProgram::Ended& ended, const std::string& why,
                   const std::string& next) {
    INFO(ended.err);
    CHECK(contains(ended.err, "glassine: "));
    CHECK(contains(ended.err, why));
    CHECK(contains(ended.err, next));
}

}  // namespace

TEST_CASE("a folder of the bag's name is never replaced") {
    const Home home;
    const auto drive = home.drive("a");
    fs::create_directories(drive / bag_name);
    write_file(drive / bag_name / "mine.txt", "mine");
    const auto ended = home.glassine(Home::closeout(home.job(), {drive}));
    CHECK(ended.code == 3);
    check_message(ended, "there already", "nothing is ever replaced");
    CHECK(content_of(drive / bag_name / "mine.txt") == "mine");
    CHECK(std::distance(fs::directory_iterator(drive), {}) == 1);
}

TEST_CASE("a bag of that name with another content is never replaced") {
    const Home home;
    const fs::path bag = home.sealed_bag("a");
    const std::string before = tree_fingerprint(bag);
    fs::remove(home.job() / "originals/GLS_0003.xmp");
    const auto ended = home.glassine(Home::closeout(home.job(), {home / "a", home.drive("b")}));
    CHECK(ended.code == 3);
    CHECK(contains(ended.err + ended.out, bag_name));
    CHECK(tree_fingerprint(bag) == before);
}

TEST_CASE("a destination inside the job is refused") {
    const Home home;
    const fs::path job = home.job();
    const fs::path inside = job / "originals" / "here";
    fs::create_directories(inside);
    for (const fs::path& drive : {inside, job}) {
        const auto ended = home.glassine(Home::closeout(job, {drive}));
        CHECK(ended.code == 2);
        check_message(ended, "inside the job", "another drive");
    }
    check_untouched(inside);
}

TEST_CASE("a job inside the destination is refused") {
    const Home home;
    const auto ended = home.glassine(Home::closeout(home.job(), {home.folder().path()}));
    CHECK(ended.code == 2);
    check_message(ended, "inside it", "another drive");
    CHECK(std::distance(fs::directory_iterator(home.folder().path()), {}) == 1);
}

TEST_CASE("a destination reached through a link is known for what it is") {
    const Home home;
    const fs::path job = home.job();
    fs::create_directories(job / "originals/here");
    fs::create_symlink(job / "originals/here", home / "a");
    CHECK(home.glassine(Home::closeout(job, {home / "a"})).code == 2);
    const auto drive = home.drive("b");
    fs::create_symlink(drive, home / "c");
    const auto twice = home.glassine(Home::closeout(job, {drive, home / "c"}));
    CHECK(twice.code == 2);
    check_message(twice, "named twice", "two different drives");
    check_untouched(drive);
}

TEST_CASE("the same destination twice is refused") {
    const Home home;
    const auto drive = home.drive("a");
    const auto ended = home.glassine(Home::closeout(home.job(), {drive, drive / "." / ""}));
    CHECK(ended.code == 2);
    check_message(ended, "named twice", "two different drives");
    check_untouched(drive);
}

TEST_CASE("a destination that is missing or no folder is refused") {
    const Home home;
    const auto drive = home.drive("a");
    const auto missing = home.glassine(Home::closeout(home.job(), {drive, home / "absent"}));
    CHECK(missing.code == 3);
    check_message(missing, "no such folder", "create it first");
    write_file(home / "file", "no folder");
    const auto file = home.glassine(Home::closeout(home.job(), {drive, home / "file"}));
    CHECK(file.code == 3);
    check_message(file, "not a folder", "name a folder");
    check_untouched(drive);
}

TEST_CASE("a job that is missing or no folder is refused") {
    const Home home;
    const auto drive = home.drive("a");
    const auto missing = home.glassine(Home::closeout(home / "absent", {drive}));
    CHECK(missing.code == 3);
    check_message(missing, "absent", "check the spelling");
    write_file(home / "file", "no folder");
    CHECK(home.glassine(Home::closeout(home / "file", {drive})).code == 3);
    check_untouched(drive);
}

TEST_CASE("symbolic links in a job are not followed and stop the close-out") {
    const Home home;
    const fs::path job = home.job();
    const auto drive = home.drive("a");
    write_file(home / "outside.txt", "outside");
    fs::create_symlink(home / "outside.txt", job / "originals/link.txt");
    fs::create_directory_symlink(home.folder().path(), job / "print/loop");
    const auto ended = home.glassine(Home::closeout(job, {drive}, {"--json"}));
    CHECK(ended.code == 1);
    const Json json = json_of(ended);
    CHECK(json.at("outcome") == "attention");
    CHECK(json.at("seal").is_null());
    CHECK(paths_of(json.at("findings"), "special-file") ==
          std::vector<std::string>{"originals/link.txt", "print/loop"});
    check_untouched(drive);
}

TEST_CASE("a pipe in a job does not hang the close-out") {
    const Home home;
    const fs::path job = home.job();
    REQUIRE(::mkfifo((job / "web/pipe.jpg").c_str(), 0644) == 0);
    const auto ended = home.glassine(Home::closeout(job, {home.drive("a")}, {"--json"}));
    CHECK(ended.code == 1);
    CHECK(paths_of(json_of(ended).at("findings"), "special-file") ==
          std::vector<std::string>{"web/pipe.jpg"});
}

TEST_CASE("an empty job is refused, whatever is accepted") {
    const Home home;
    const auto job = home.drive("empty");
    const auto drive = home.drive("a");
    for (const char* folder : {"originals", "print", "web", "rejects"})
        fs::create_directories(job / folder);
    const auto ended =
        home.glassine(Home::closeout(job, {drive}, {"--accept", "job-empty", "--json"}));
    CHECK(ended.code == 1);
    CHECK_FALSE(paths_of(json_of(ended).at("findings"), "job-empty").empty());
    check_untouched(drive);
    const auto text = home.glassine(Home::closeout(job, {drive}));
    CHECK(contains(text.out, "nothing to keep"));
    CHECK(contains(text.out, "not ready"));
}

TEST_CASE("a job without kept originals needs a word from the keeper") {
    const Home home;
    const fs::path job = home.job();
    fs::remove_all(job / "originals");
    const auto refused = home.glassine(Home::closeout(job, {home.drive("a")}, {"--json"}));
    CHECK(refused.code == 1);
    const Json json = json_of(refused);
    CHECK(paths_of(json.at("findings"), "originals-missing").size() == 1);
    check_untouched(home / "a");
    const auto sealed = home.glassine(Home::closeout(
        job, {home / "a"},
        {"--accept", "originals-missing", "--accept", "delivered-without-original"}));
    INFO(sealed.out << sealed.err);
    CHECK(sealed.code == 0);
    CHECK(contains(content_of(home / "a" / bag_name / "events.jsonl"), "originals-missing"));
    CHECK(home.glassine({"audit", (home / "a").string()}).code == 0);
}

TEST_CASE("files outside the sections stop the close-out until they are accepted") {
    const Home home;
    const fs::path job = home.job();
    write_file(job / "contract.txt", "signed");
    const auto refused = home.glassine(Home::closeout(job, {home.drive("a")}));
    CHECK(refused.code == 1);
    CHECK(contains(refused.out, "unsorted-file"));
    CHECK(contains(refused.out, "contract.txt"));
    CHECK(contains(refused.out, "--accept"));
    CHECK(home.glassine(Home::closeout(job, {home / "a"}, {"--accept", "unsorted-file"})).code ==
          0);
}

namespace {

/// The lines of a sealed bag's events.jsonl that are of this PREMIS type.
std::vector<Json> events_of(const fs::path& bag, const std::string& type) {
    std::vector<Json> out;
    std::istringstream lines(content_of(bag / "events.jsonl"));
    for (std::string line; std::getline(lines, line);)
        if (Json event = Json::parse(line); event.at("type") == type)
            out.push_back(std::move(event));
    return out;
}

}  // namespace

TEST_CASE("what was accepted, by whom and when, stands in the bag for good") {
    const Home home;
    const fs::path job = home.job();
    write_file(job / "contract.txt", "signed");
    write_file(job / "originals/GLS_0099.dng", "no picture at all");
    const std::string before = run({"date", "-u", "+%FT%TZ"}).out.substr(0, 19);
    // Each kind is accepted by its own name; one more than there is harms nobody.
    const fs::path drive = home.drive("a");
    CHECK(home.glassine(Home::closeout(job, {drive}, {"--accept", "unsorted-file"})).code == 1);
    check_untouched(drive);
    const Json sealed =
        home.ask(Home::closeout(job, {drive},
                                {"--accept", "unsorted-file", "--accept", "image-broken",
                                 "--accept", "reject-without-proxy"}));
    CHECK(sealed.at("accepted") == Json{"image-broken", "unsorted-file"});

    const auto events = events_of(drive / bag_name, "validation");
    REQUIRE(events.size() == 1);
    const Json& event = events.front();
    CHECK(event.at("outcome") == "partial success");
    CHECK(contains(event.at("detail"), "accepted by name"));
    const Json& what = event.at("outcome_detail");
    REQUIRE(what.size() == 2);
    CHECK(contains(what.dump(), "image-broken: originals/GLS_0099.dng: "));
    CHECK(contains(what.dump(), "unsorted-file: contract.txt: "));
    // Home's person; and a moment of this test.
    CHECK(contains(event.at("agents").dump(), "\"keeper\""));
    CHECK(event.at("time").get<std::string>().substr(0, 19) >= before);
    CHECK(event.at("time").get<std::string>().substr(0, 19) <=
          run({"date", "-u", "+%FT%TZ"}).out.substr(0, 19));
    CHECK(contains(event.at("objects").dump(), bag_name));
    CHECK(home.glassine({"audit", drive.string()}).code == 0);
}

TEST_CASE("a job with nothing to accept has no such event") {
    const Home home;
    CHECK(events_of(home.sealed_bag(), "validation").empty());
}

TEST_CASE("wrong command lines end with 2 and a word on how to go on") {
    const Home home;
    const std::string job = home.job().string();
    const std::string drive = home.drive("a").string();
    const auto wrong = [&](const Arguments& arguments, const std::string& word) {
        const auto ended = home.glassine(arguments);
        INFO(ended.err);
        CHECK(ended.code == 2);
        CHECK(contains(ended.err, word));
        CHECK(ended.out.empty());
    };
    wrong({"closout"}, "did you mean \"closeout\"");
    wrong({"closeout", job, "--to", drive}, "--");
    wrong({"closeout", job, "--client", "Holt", "--date", "2025-06-14", "--about", "gala"}, "--to");
    wrong({"closeout", job, "--to", drive, "--client", "Holt", "--date", "2025-02-30", "--about",
           "gala"},
          "2025-02-30");
    wrong({"closeout", job, "--to", drive, "--client", "Holt", "--date", "2025-06-14", "--about",
           "gala", "--accept", "frame-gop"},
          "frame-gap");
    wrong({"closeout", job, "--to", drive, "--client", "Holt", "--date", "2025-06-14", "--about",
           "gala", "--no-such-option"},
          "--no-such-option");
    wrong({"audit"}, "glassine audit --help");
    wrong({"inspect"}, "glassine inspect --help");
    wrong({"audit", "--color", "pink", drive}, "color");
    check_untouched(drive);
}

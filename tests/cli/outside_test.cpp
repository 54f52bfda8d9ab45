#include "cli/glassine.h"

using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

const std::string scripts = SOURCE_TREE "/tests/cli/";

}  // namespace

// GNU coreutils, "sha2 utilities": `--check` reads such lists, `--strict` refuses any line that is
// none.
TEST_CASE("sha512sum accepts every manifest and tag manifest") {
    const Home home;
    const fs::path job = home.job({.kept = 5, .rejected = 2, .film_bytes = 2'000'000});
    write_file(job / "originals/Jørgen's notes (last).txt", "with blanks");
    const fs::path bag = home.sealed_bag();
    for (const char* list : {"manifest-sha512.txt", "tagmanifest-sha512.txt"}) {
        const auto ended = run({"sha512sum", "--check", "--strict", "--quiet", list}, bag);
        INFO(list << ": " << ended.out << ended.err);
        CHECK(ended.code == 0);
    }
    const std::string help = content_of(bag / "HOW-TO-VERIFY.txt");
    CHECK(contains(help, "sha512sum -c --quiet manifest-sha512.txt"));
    CHECK(contains(help, "sha512sum -c --quiet tagmanifest-sha512.txt"));
}

TEST_CASE("a checker written from RFC 8493 in Python agrees on every file") {
    const Home home;
    const fs::path job = home.job({.kept = 4, .rejected = 2, .film_bytes = 1'000'001});
    write_file(job / "originals/50% of\nit.txt", "a name that has to be escaped");
    const fs::path bag = home.sealed_bag();
    const auto whole = run({"python3", scripts + "check_bag.py", bag.string()});
    INFO(whole.out << whole.err);
    CHECK(whole.code == 0);
    write_file(bag / "data/web/GLS_0001.jpg", "altered");
    const auto altered = run({"python3", scripts + "check_bag.py", bag.string()});
    CHECK(altered.code == 1);
    CHECK(contains(altered.out, "data/web/GLS_0001.jpg"));
}

TEST_CASE("a bag written from RFC 8493 by a short Python script audits as valid") {
    const Home home;
    for (const std::string algorithm : {"md5", "sha1", "sha224", "sha256", "sha384", "sha512"}) {
        const std::string bag = (home / ("bag-" + algorithm)).string();
        REQUIRE(run({"python3", scripts + "make_bag.py", bag, algorithm}).code == 0);
        const auto ended = home.glassine({"audit", bag, "--json"});
        INFO(ended.out << ended.err);
        CHECK(ended.code == 0);
        const Json json = json_of(ended);
        CHECK(json["bags"][0].at("valid") == true);
        CHECK(json["bags"][0].at("files") == 2);
    }
}

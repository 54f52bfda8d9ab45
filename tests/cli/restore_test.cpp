#include "cli/glassine.h"

using namespace glassine::test;
namespace fs = std::filesystem;

TEST_CASE("restore into a folder: text, JSON and exit code") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    const auto text = home.glassine({"restore", bag.string(), "--to", (home / "out").string()});
    INFO(text.out << text.err);
    CHECK(text.code == 0);
    CHECK(contains(text.out, "3 prints, 3 web pictures"));
    CHECK(contains(text.out, "all verified"));
    const auto again =
        home.glassine({"restore", bag.string(), "--to", (home / "out").string(), "--json"});
    const Json json = json_of(again);
    CHECK(again.code == 0);
    CHECK(json.at("there_already") == 6);
    CHECK(json.at("files") == 0);
    CHECK(json.at("from") == bag.string());
    CHECK(json.at("target") == (home / "out").string());
    CHECK(json.at("findings").empty());
}

TEST_CASE("restore into a ZIP file that unzip and Python take, with a gallery") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    const fs::path zip = home / "holt.zip";
    const auto ended = home.glassine(
        {"restore", bag.string(), "--to", zip.string(), "--section", "web", "--gallery", "--json"});
    INFO(ended.err);
    CHECK(ended.code == 0);
    CHECK(json_of(ended).at("written") == Json::array({zip.string()}));
    CHECK(json_of(ended).at("gallery") == true);
    // Info-ZIP's own test of an archive, and Python's (zipfile, standard library).
    CHECK(run({"unzip", "-t", zip.string()}).code == 0);
    const auto listed = run({"python3", "-m", "zipfile", "-l", zip.string()});
    CHECK(listed.code == 0);
    CHECK(contains(listed.out, "web/GLS_0001.jpg"));
    CHECK(contains(listed.out, "index.html"));
    CHECK(contains(listed.out, "thumbnails/0003.jpg"));
    CHECK_FALSE(contains(listed.out, "print/"));
    const auto refused =
        home.glassine({"restore", bag.string(), "--to", zip.string(), "--section", "web"});
    CHECK(refused.code == 3);
    CHECK(contains(refused.err, "it is there already"));
}

TEST_CASE("restore of frames from a list file") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    write_file(home / "wanted.txt", "GLS_0001.jpg\r\n3\r\n");
    const auto ended =
        home.glassine({"restore", bag.string(), "--to", (home / "out").string(), "--section", "web",
                       "--frames", "@" + (home / "wanted.txt").string()});
    INFO(ended.out << ended.err);
    CHECK(ended.code == 0);
    CHECK(fs::exists(home / "out/web/GLS_0001.jpg"));
    CHECK_FALSE(fs::exists(home / "out/web/GLS_0002.jpg"));
    CHECK(fs::exists(home / "out/web/GLS_0003.jpg"));
}

TEST_CASE("restore refuses what makes no sense, and says what to do") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    const std::string to = (home / "out").string();
    const auto code = [&](const Arguments& more) {
        Arguments arguments{"restore"};
        arguments.insert(arguments.end(), more.begin(), more.end());
        return home.glassine(arguments).code;
    };
    CHECK(code({bag.string()}) == 2);
    CHECK(code({bag.string(), "--to", to, "--section", "prints"}) == 2);
    CHECK(code({bag.string(), "--to", to, "--frames", "9-3"}) == 2);
    CHECK(code({bag.string(), "--to", to + ".zip", "--split", "much"}) == 2);
    CHECK(code({(home / "nothing").string(), "--to", to}) == 3);
    CHECK(code({home.folder().path().string(), "--to", to}) == 3);
    CHECK(code({bag.string(), "--to", (home / "no/such/folder").string()}) == 3);
    CHECK_FALSE(fs::exists(to));
}

TEST_CASE("restore from a damaged copy says what is missing, or takes it from another copy") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    fs::copy(bag, home / "other", fs::copy_options::recursive);
    for (const auto& entry : fs::directory_iterator(bag / "recovery"))
        fs::remove(entry.path());
    write_file(bag / "data/web/GLS_0002.jpg", "overwritten");
    const auto alone = home.glassine({"restore", bag.string(), "--to", (home / "one").string()});
    CHECK(alone.code == 1);
    CHECK(contains(alone.out, "beyond-repair"));
    CHECK(contains(alone.out, "not all that was asked for"));
    const auto helped = home.glassine({"restore", bag.string(), "--to", (home / "two").string(),
                                       "--from", (home / "other").string()});
    INFO(helped.out);
    CHECK(helped.code == 0);
    CHECK(contains(helped.out, "This copy is damaged"));
    CHECK(content_of(home / "two/web/GLS_0002.jpg") ==
          content_of(home / "other/data/web/GLS_0002.jpg"));
}

#include "cli/glassine.h"

using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

/// A sealed bag and archives of it, made by GNU tar, gzip, zstd and Python's zipfile.
struct PackedBag {
    PackedBag() : bag(home.sealed_bag()) {}

    fs::path pack(const std::string& ending) const {
        const fs::path archive = home / ("packed" + ending);
        const std::string stored =
            "import sys,zipfile,pathlib\n"
            "top=pathlib.Path(sys.argv[2])\n"
            "with zipfile.ZipFile(sys.argv[1],'w') as z:\n"
            "  for p in sorted(top.rglob('*')):\n"
            "    if p.is_file(): z.write(p,p.relative_to(top.parent))\n";
        const Arguments command =
            ending == ".zip"
                ? Arguments{"python3", "-c", stored, archive.string(), bag.string()}
                : Arguments{"tar", "--auto-compress", "-cf", archive.string(), bag_name};
        const auto ended = run(command, bag.parent_path());
        INFO(ended.err);
        REQUIRE(ended.code == 0);
        return archive;
    }
    RunningProgram::Ended restore(const fs::path& what, const Arguments& more = {}) const {
        Arguments arguments{"restore", what.string(), "--to", (home / "out").string()};
        arguments.insert(arguments.end(), more.begin(), more.end());
        return home.glassine(arguments);
    }

    Home home;
    fs::path bag;
};

}  // namespace

TEST_CASE("pictures are handed out of a bag that is packed into one file") {
    const PackedBag packed;
    for (const char* ending : {".tar", ".zip", ".tar.gz", ".tar.zst"}) {
        INFO(ending);
        const fs::path archive = packed.pack(ending);
        fs::remove_all(packed.home / "out");
        const auto ended = packed.restore(archive, {"--frames", "2", "--gallery", "--json"});
        INFO(ended.out << ended.err);
        CHECK(ended.code == 0);
        const Json json = json_of(ended);
        CHECK(json.at("bag_name") == bag_name);
        CHECK(json.at("from") == archive.string());
        CHECK(json.at("files") == 2);
        CHECK(content_of(packed.home / "out/web/GLS_0002.jpg") ==
              content_of(packed.bag / "data/web/GLS_0002.jpg"));
        CHECK(fs::exists(packed.home / "out/index.html"));
    }
}

TEST_CASE("of an archive that is not compressed only what is asked for is read") {
    const PackedBag packed;
    const fs::path archive = packed.pack(".tar");
    const auto restore_one = [&] {
        fs::remove_all(packed.home / "out");
        return packed.restore(archive, {"--section", "web", "--frames", "1"}).code;
    };
    CHECK(restore_one() == 0);
    // Damage in everything that was not asked for goes unseen: it was not read.
    std::string content = content_of(archive);
    const std::string other = content_of(packed.bag / "data/print/GLS_0003.jpg");
    const std::size_t at = content.find(other);
    REQUIRE(at != std::string::npos);
    content[at + other.size() / 2] = static_cast<char>(content[at + other.size() / 2] ^ 1);
    write_file(archive, content);
    CHECK(restore_one() == 0);
    const auto all = packed.restore(archive);
    CHECK(all.code == 0);
    CHECK(contains(all.out, "This copy is damaged"));
}

TEST_CASE("damage in an archive is healed from its recovery data or from another copy") {
    const PackedBag packed;
    const fs::path archive = packed.pack(".tar");
    const std::string whole = content_of(archive);
    const std::string picture = content_of(packed.bag / "data/web/GLS_0002.jpg");
    std::string damaged = whole;
    char& hit = damaged[damaged.find(picture) + 100];
    hit = static_cast<char>(hit ^ 1);
    write_file(archive, damaged);
    const auto healed = packed.restore(archive, {"--json"});
    INFO(healed.out << healed.err);
    CHECK(healed.code == 0);
    CHECK(json_of(healed).at("healed").at(0).at("from") == "recovery data");
    CHECK(content_of(packed.home / "out/web/GLS_0002.jpg") == picture);

    const fs::path gz = packed.home / "damaged.tar.gz";
    REQUIRE(run({"sh", "-c", "gzip -c packed.tar > damaged.tar.gz"}, packed.home.folder().path())
                .code == 0);
    fs::remove_all(packed.home / "out");
    CHECK(packed.restore(gz).code == 1);
    fs::remove_all(packed.home / "out");
    write_file(packed.home / "whole.tar", whole);
    const auto helped =
        packed.restore(gz, {"--from", (packed.home / "whole.tar").string(), "--json"});
    INFO(helped.out << helped.err);
    CHECK(helped.code == 0);
    CHECK(content_of(packed.home / "out/web/GLS_0002.jpg") == picture);
    const auto refused = packed.restore(archive, {"--from", gz.string()});
    CHECK(refused.code == 3);
    CHECK(contains(refused.err, "unpack it"));
}

TEST_CASE("an archive without a bag is refused with a reason") {
    const PackedBag packed;
    fs::create_directories(packed.home / "things");
    write_file(packed.home / "things/a.txt", "a");
    const std::string archive = (packed.home / "things.tar").string();
    REQUIRE(run({"tar", "-cf", archive, "things"}, packed.home.folder().path()).code == 0);
    const auto ended = packed.restore(archive);
    CHECK(ended.code == 3);
    CHECK(contains(ended.err, "there is no bag in it"));
}

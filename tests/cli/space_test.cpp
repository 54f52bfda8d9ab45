#include "cli/glassine.h"

#include <sys/mount.h>
#include <unistd.h>

using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

/// A volume in memory of a chosen size, for as long as the scope lasts. Only root can mount one.
class MemoryVolume {
  public:
    MemoryVolume(const fs::path& at, const std::string& options) : at_(at) {
        fs::create_directories(at);
        mounted_ = ::mount("glassine-test", at.c_str(), "tmpfs", 0, options.c_str()) == 0;
    }
    ~MemoryVolume() {
        if (mounted_) ::umount2(at_.c_str(), MNT_DETACH);
    }
    MemoryVolume(const MemoryVolume&) = delete;
    MemoryVolume& operator=(const MemoryVolume&) = delete;

    bool mounted() const { return mounted_; }
    bool make_read_only() {
        return ::mount("glassine-test", at_.c_str(), "tmpfs", MS_REMOUNT | MS_RDONLY, nullptr) == 0;
    }

  private:
    fs::path at_;
    bool mounted_ = false;
};

#define REQUIRE_MOUNTED(volume) \
    if (!(volume).mounted()) CANNOT_TEST_HERE("mounting a volume in memory takes root")

}  // namespace

TEST_CASE("too little space is seen before the first byte is written") {
    const Home home;
    const fs::path job = home.job({.film_bytes = 20'000'000});
    const auto good = home.drive("good");
    const MemoryVolume small(home / "small", "size=12m");
    REQUIRE_MOUNTED(small);
    const auto ended = home.glassine(Home::closeout(job, {good, home / "small"}));
    INFO(ended.out << ended.err);
    CHECK(ended.code == 3);
    CHECK(contains(ended.err, (home / "small").string()));
    CHECK(contains(ended.err, "are free"));
    CHECK(contains(ended.err, "nothing was written"));
    CHECK(fs::is_empty(good));
    CHECK(fs::is_empty(home / "small"));
}

TEST_CASE("two copies on one small volume are counted together") {
    const Home home;
    const fs::path job = home.job({.film_bytes = 20'000'000});
    const MemoryVolume small(home / "small", "size=40m");
    REQUIRE_MOUNTED(small);
    const auto a = home.drive("small/a");
    const auto b = home.drive("small/b");
    CHECK(home.glassine(Home::closeout(job, {a, b})).code == 3);
    CHECK(fs::is_empty(a));
    CHECK(home.glassine(Home::closeout(job, {a})).code == 0);
}

TEST_CASE("a drive that fills up does not cost the copy on the other one") {
    const Home home;
    const fs::path job = home.job({.film_bytes = 20'000'000});
    const std::string before = tree_fingerprint(job);
    const auto good = home.drive("good");
    // Bytes enough, but not files: that shows only while writing, as on a drive that another
    // program fills meanwhile.
    const MemoryVolume full(home / "full", "size=100m,nr_inodes=12");
    REQUIRE_MOUNTED(full);
    const auto ended = home.glassine(Home::closeout(job, {home / "full", good}, {"--json"}));
    INFO(ended.out << ended.err);
    CHECK(ended.code == 3);
    const Json json = json_of(ended);
    CHECK(json.at("outcome") == "failed");
    CHECK(json.at("seal").is_string());
    REQUIRE(json.at("copies").size() == 2);
    CHECK(json["copies"][0].at("verified") == false);
    CHECK(json["copies"][0].at("path") == "");
    CHECK(contains(json["copies"][0].at("failure"), "no space left"));
    CHECK(json["copies"][1].at("verified") == true);
    CHECK(fs::is_empty(home / "full"));
    CHECK(home.glassine({"audit", good.string()}).code == 0);
    CHECK(tree_fingerprint(job) == before);
}

TEST_CASE("when every drive fills up nothing is sealed and nothing is left") {
    const Home home;
    const fs::path job = home.job();
    const MemoryVolume full(home / "full", "size=100m,nr_inodes=9");
    REQUIRE_MOUNTED(full);
    const auto ended = home.glassine(Home::closeout(job, {home / "full"}));
    INFO(ended.out << ended.err);
    CHECK(ended.code == 3);
    CHECK(contains(ended.out, "no verified copy"));
    CHECK(contains(ended.out, "no space left"));
    CHECK(fs::is_empty(home / "full"));
}

TEST_CASE("a volume that can only be read is refused before the first byte") {
    const Home home;
    MemoryVolume locked(home / "locked", "size=100m");
    REQUIRE_MOUNTED(locked);
    REQUIRE(locked.make_read_only());
    const auto good = home.drive("good");
    const auto ended = home.glassine(Home::closeout(home.job(), {good, home / "locked"}));
    INFO(ended.err);
    CHECK(ended.code == 3);
    CHECK(contains(ended.err, "can only be read"));
    CHECK(contains(ended.err, "take off the write protection"));
    CHECK(fs::is_empty(good));
}

TEST_CASE("a bag on a volume that can only be read is audited like any other") {
    const Home home;
    MemoryVolume locked(home / "locked", "size=100m");
    REQUIRE_MOUNTED(locked);
    const fs::path bag = home.sealed_bag("locked");
    REQUIRE(locked.make_read_only());
    CHECK(home.glassine({"audit", bag.string()}).code == 0);
    CHECK(home.glassine({"inspect", bag.string()}).code == 0);
}

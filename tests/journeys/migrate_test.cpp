#include "journeys/two_drives.h"
#include "support/fault_file_system.h"
#include "support/flip.h"
#include "support/forgetful_file_system.h"

#include <algorithm>
#include <cstdlib>
#include <random>

using namespace glassine;
using namespace glassine::test;
using report::Ending;
using report::Fate;
namespace fs = std::filesystem;

namespace {

struct Shelf : TwoDrives {
    Shelf() { fs::create_directories(old() / "2012"); }
    report::MigrateResult migrate(io::FileSystem& files) const {
        return journeys::migrate(context(files), request());
    }
    report::MigrateResult migrate() const { return migrate(io::posix_file_system()); }
};

/// Every file and folder below, with its content and time: `tree_fingerprint` without the root's
/// own path.
std::string content_and_times(const fs::path& root) {
    std::string out;
    std::vector<fs::path> paths;
    for (const auto& entry : fs::recursive_directory_iterator(root))
        paths.push_back(entry.path());
    std::ranges::sort(paths);
    for (const fs::path& path : paths) {
        out += fs::relative(path, root).string();
        if (fs::is_regular_file(path)) {
            out += " " + std::to_string(fs::last_write_time(path).time_since_epoch().count());
            out += " " + content_of(path);
        }
        out += "\n";
    }
    return out;
}

}  // namespace

TEST_CASE("bags of every version are carried bit for bit, with their times and folders") {
    Shelf shelf;
    for (const std::string version : {"0.93", "0.94", "0.95", "0.96", "0.97", "1.0"})
        shelf.add_bag(version, "2012/bag-" + version);
    for (const auto& entry : fs::recursive_directory_iterator(shelf.old()))
        if (entry.is_regular_file())
            io::posix_file_system().set_modified(entry.path(),
                                                 *parse_rfc3339("2012-06-21T15:04:06Z"));
    fs::create_directories(shelf.old() / "2012/bag-1.0/empty/deeper");
    const std::string before = tree_fingerprint(shelf.old());
    const auto result = shelf.migrate();
    for (const auto& bag : result.bags) {
        INFO(bag.source << " " << bag.failure << "\n" << listed(bag.findings));
        CHECK(bag.fate == Fate::carried);
        CHECK(fs::path(bag.path) == shelf.fresh() / fs::relative(bag.source, shelf.old()));
    }
    CHECK(result.bags.size() == 6);
    CHECK(result.ending == Ending::good);
    REQUIRE(result.sources.size() == 1);
    CHECK(result.sources[0].may_go);
    CHECK(content_and_times(shelf.fresh()) == content_and_times(shelf.old()));
    CHECK(tree_fingerprint(shelf.old()) == before);
    // coreutils: the carried manifest holds (names without the characters that BagIt escapes).
    const auto checked = run({"sha512sum", "-c", "--quiet", "tagmanifest-sha512.txt"},
                             shelf.fresh() / "2012/bag-1.0");
    INFO(checked.out << checked.err);
    CHECK(checked.code == 0);
}

TEST_CASE("a second migration reads what stands there and passes over it") {
    Shelf shelf;
    shelf.add_bag("0.97", "2012/one");
    shelf.add_bag("1.0", "two");
    REQUIRE(shelf.migrate().ending == Ending::good);
    const std::string before = tree_fingerprint(shelf.fresh());
    const auto again = shelf.migrate();
    for (const auto& bag : again.bags) {
        INFO(bag.failure);
        CHECK(bag.fate == Fate::already);
    }
    CHECK(again.ending == Ending::good);
    CHECK(tree_fingerprint(shelf.fresh()) == before);
    flip(shelf.fresh() / "two/data/originals/AX1_0001.raw", 10);
    const auto damaged = shelf.migrate();
    CHECK(damaged.ending == Ending::failed);
    CHECK_FALSE(damaged.sources[0].may_go);
}

TEST_CASE("another bag of the same name is never taken for a copy") {
    Shelf shelf;
    shelf.add_bag("1.0", "two");
    REQUIRE(shelf.migrate().ending == Ending::good);
    write_file(shelf.old() / "two/notes/plan.xml", "<other/>");
    const auto result = shelf.migrate();
    // The source's own tag file is damaged, so it may be the same bag; its copy is whole.
    CHECK(result.bags[0].fate == Fate::already);
    fs::remove_all(shelf.old() / "two");
    shelf.add_bag("0.97", "two");
    const auto other = shelf.migrate();
    CHECK(other.bags[0].fate == Fate::failed);
    CHECK(other.bags[0].failure.find("another bag") != std::string::npos);
}

TEST_CASE("what stands in no bag is listed, junk apart") {
    Shelf shelf;
    shelf.add_bag("1.0", "bag");
    write_file(shelf.old() / "2012/list of clients.txt", "names");
    write_file(shelf.old() / ".DS_Store", "junk");
    const auto result = shelf.migrate();
    CHECK(result.ending == Ending::attention);
    REQUIRE(result.sources.size() == 1);
    const auto& source = result.sources[0];
    CHECK_FALSE(source.may_go);
    CHECK(find(source.left, FindingKind::unmapped, "2012/list of clients.txt") != nullptr);
    CHECK(source.junk == std::vector<std::string>{".DS_Store"});
    CHECK(source.accounted + 1 == source.files);

    // What Glassine itself has left there is called what it is.
    fs::remove(shelf.old() / "2012/list of clients.txt");
    write_file(shelf.old() / "glassine-volume.json", "{}");
    const std::string kept = "bag.quarantine-20261125T110644Z";
    fs::create_directories(shelf.old() / kept / "data");
    write_file(shelf.old() / kept / "healing.txt", "what was healed");
    write_file(shelf.old() / kept / "data/a.jpg.damaged", "half");
    const auto again = shelf.migrate();
    const auto& own = again.sources[0];
    CHECK(own.records == std::vector<std::string>{"glassine-volume.json"});
    REQUIRE(own.left.size() == 1);
    CHECK(own.left[0].kind == FindingKind::quarantined);
    CHECK(own.left[0].path == kept);
    CHECK(own.accounted + 2 == own.files);
    CHECK_FALSE(own.may_go);
}

TEST_CASE("when the time is up no further bag is begun, and what is left is told") {
    Shelf shelf;
    shelf.add_bag("1.0", "2012/one");
    shelf.add_bag("1.0", "two");
    auto request = shelf.request();
    request.budget = std::chrono::duration<double>(0);
    const auto result = journeys::migrate(shelf.context(io::posix_file_system()), request);
    // The clock runs by itself: a bag may have been begun before it struck.
    CHECK(result.bags.size() + result.left.size() == 2);
    CHECK(result.sources[0].may_go == result.left.empty());
    const auto rest = shelf.migrate();
    CHECK(rest.ending == Ending::good);
    CHECK(rest.sources[0].files == result.sources[0].files);
    CHECK(rest.sources[0].bytes == result.sources[0].bytes);
}

TEST_CASE("damage is put right on the way from another copy, else carried and told") {
    Shelf shelf;
    const fs::path bag = shelf.add_bag("1.0", "bag");
    fs::create_directories(shelf.folder / "other");
    fs::copy(bag, shelf.folder / "other/bag", fs::copy_options::recursive);
    flip(bag / "data/originals/AX1_0001.raw", 9000);
    fs::remove(bag / "data/print/Núñez.jpg");
    flip(bag / "manifest-sha512.txt", 3);
    const std::string before = tree_fingerprint(shelf.old());
    auto request = shelf.request();
    SECTION("with another copy") {
        request.from = {shelf.folder / "other"};
        const auto result = journeys::migrate(shelf.context(io::posix_file_system()), request);
        INFO(result.bags[0].failure << "\n" << listed(result.bags[0].findings));
        CHECK(result.bags[0].fate == Fate::carried);
        CHECK(result.bags[0].healed.size() == 3);
        CHECK(result.ending == Ending::good);
        CHECK(bagit::check_folder(io::posix_file_system(), shelf.fresh() / "bag", {}).valid ==
              true);
    }
    SECTION("without") {
        const auto result = shelf.migrate();
        CHECK(result.bags[0].fate == Fate::damaged);
        CHECK(result.ending == Ending::attention);
        CHECK(find(result.bags[0].findings, FindingKind::payload_altered,
                   "data/originals/AX1_0001.raw") != nullptr);
        CHECK(find(result.bags[0].findings, FindingKind::payload_missing) != nullptr);
        CHECK(content_and_times(shelf.fresh() / "bag") == content_and_times(bag));
    }
    CHECK(tree_fingerprint(shelf.old()) == before);
}

TEST_CASE("damage is put right on the way from the bag's own recovery data") {
    Sealing sealing({.kept = 2});
    auto closing = sealing.request({1});
    closing.recovery_percent = 20;
    REQUIRE(sealing.closeout(io::posix_file_system(), closing).ending == Ending::good);
    fs::copy(sealing.bag(1), sealing.root() / "whole", fs::copy_options::recursive);
    flip(sealing.bag(1) / "data/web/GLS_0001.jpg", 500);
    fs::remove(sealing.bag(1) / "data/web/GLS_0002.jpg");
    flip(sealing.bag(1) / "manifest-sha512.txt", 200);
    flip(sealing.bag(1) / "bag-info.txt", 20);
    const std::string before = tree_fingerprint(sealing.drive(1));
    journeys::SilentMonitor monitor;
    const journeys::Context context{io::posix_file_system(), monitor, {}, {}, "keeper", {}};
    journeys::MigrateRequest request;
    request.sources = {sealing.drive(1)};
    request.to = sealing.drive(2).string();
    const auto result = journeys::migrate(context, request);
    INFO(result.bags[0].failure << "\n" << listed(result.bags[0].findings));
    CHECK(result.bags[0].fate == Fate::carried);
    CHECK(result.bags[0].healed.size() == 4);
    for (const auto& entry : fs::recursive_directory_iterator(sealing.root() / "whole"))
        if (entry.is_regular_file()) {
            const fs::path name = fs::relative(entry.path(), sealing.root() / "whole");
            INFO(name);
            CHECK(content_of(entry.path()) == content_of(sealing.bag(2) / name));
        }
    CHECK(tree_fingerprint(sealing.drive(1)) == before);
}

TEST_CASE("sectors that cannot be read are carried as zeros, in their place, and told") {
    Shelf shelf;
    const fs::path bag = shelf.add_bag("1.0", "bag");
    FaultFileSystem files(io::posix_file_system());
    files.damage("old/bag/data/originals/AX1_0001.raw", 2);
    const auto result = shelf.migrate(files);
    CHECK(result.bags[0].fate == Fate::damaged);
    std::string expected = content_of(bag / "data/originals/AX1_0001.raw");
    std::fill_n(expected.begin() + 8192, 4096, '\0');
    CHECK(content_of(shelf.fresh() / "bag/data/originals/AX1_0001.raw") == expected);
    CHECK(find(result.bags[0].findings, FindingKind::unreadable, "data/originals/AX1_0001.raw") !=
          nullptr);
}

// The invariants of a migration, on generated archives: every file of the source is in the
// destination, in the findings, or both; the source is as it was; interrupted and run again, it
// ends like one clean run.
TEST_CASE("wherever a migration fails, nothing is lost and the next run completes it") {
    Shelf shelf;
    shelf.add_bag("0.93", "2012/a");
    shelf.add_bag("1.0", "b");
    const std::string before = tree_fingerprint(shelf.old());
    REQUIRE(shelf.migrate().ending == Ending::good);
    const std::string clean = content_and_times(shelf.fresh());
    std::mt19937_64 random(7);
    for (std::uint64_t n = 1;; n += 1 + random() % 23) {
        fs::remove_all(shelf.fresh());
        fs::create_directories(shelf.fresh());
        FaultFileSystem files(io::posix_file_system());
        if (random() % 2 == 0)
            files.fail_at(n);
        else
            files.fail_from(n);
        try {
            const auto result = shelf.migrate(files);
            if (files.failed()) REQUIRE(result.ending != Ending::interrupted);
        } catch (const Error& error) {
            REQUIRE(files.failed());
        }
        INFO("operation " << n);
        for (const char* name : {"2012/a", "b"})
            if (fs::exists(shelf.fresh() / name))
                REQUIRE(
                    bagit::check_folder(io::posix_file_system(), shelf.fresh() / name, {}).valid ==
                    true);
        const auto again = shelf.migrate();
        REQUIRE(again.ending == Ending::good);
        REQUIRE(content_and_times(shelf.fresh()) == clean);
        REQUIRE(tree_fingerprint(shelf.old()) == before);
        if (!files.failed()) break;
    }
}

TEST_CASE("on damaged archives every file is in the destination, in the findings, or both") {
    std::mt19937_64 random(11);
    for (int round = 0; round < 12; ++round) {
        Shelf shelf;
        for (const std::string version : {"0.95", "1.0"})
            shelf.add_bag(version, version);
        std::vector<fs::path> files;
        for (const auto& entry : fs::recursive_directory_iterator(shelf.old()))
            if (entry.is_regular_file() && entry.file_size() > 0) files.push_back(entry.path());
        std::ranges::sort(files);
        for (int i = 0; i < 3; ++i) {
            const fs::path& file = files[random() % files.size()];
            if (!fs::exists(file)) continue;
            if (random() % 3 == 0)
                fs::remove(file);
            else
                flip(file, random() % fs::file_size(file));
        }
        const std::string before = tree_fingerprint(shelf.old());
        const auto result = shelf.migrate();
        REQUIRE(tree_fingerprint(shelf.old()) == before);
        for (const auto& bag : result.bags) {
            const auto source = bagit::check_folder(io::posix_file_system(), bag.source, {});
            INFO(bag.source << "\n" << bag.failure << listed(bag.findings));
            REQUIRE(bag.fate != Fate::failed);
            REQUIRE((bag.fate == Fate::carried) == source.valid.value_or(false));
        }
        for (const auto& entry : fs::recursive_directory_iterator(shelf.old())) {
            if (!entry.is_regular_file()) continue;
            const fs::path copy = shelf.fresh() / fs::relative(entry.path(), shelf.old());
            INFO(copy);
            REQUIRE(content_of(copy) == content_of(entry.path()));
        }
    }
}

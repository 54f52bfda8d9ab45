#include "journeys/two_drives.h"

#include <algorithm>
#include <fstream>
#include <set>

using namespace glassine;
using namespace glassine::test;
using report::Ending;
using report::Fate;
namespace fs = std::filesystem;

namespace {

/// An old drive of plain folders, and an empty new one.
struct OldDrive : TwoDrives {
    /// A real job whose folders have the names that somebody gave them years ago.
    fs::path add_job(const std::string& name) const {
        const fs::path job = old() / name;
        write_small_job(job, {.kept = 2, .rejected = 1});
        fs::rename(job / "originals", job / "01_RAW");
        fs::create_directories(job / "Exports");
        fs::rename(job / "print", job / "Exports/High Res");
        fs::rename(job / "web", job / "Exports/web");
        return job;
    }

    report::MigrateResult migrate(const job::AdoptRules& rules = {}) const {
        job::Studio studio;
        studio.adopt = rules;
        auto adopting = request();
        adopting.adopt = true;
        return journeys::migrate(context(io::posix_file_system(), studio), adopting);
    }
};

std::set<std::string> files_below(const fs::path& folder) {
    std::set<std::string> names;
    for (const auto& entry : fs::recursive_directory_iterator(folder))
        if (entry.is_regular_file()) names.insert(fs::relative(entry.path(), folder).string());
    return names;
}

/// Files in = files accounted for + files listed.
void check_sum(const OldDrive& drive, const report::MigrateResult& result) {
    const std::set<std::string> files = files_below(drive.old());
    const report::RetiredSource& source = result.sources.at(0);
    std::set<std::string> listed;
    for (const Finding& f : source.left)
        if (files.contains(f.path)) listed.insert(f.path);
    CHECK(source.files == files.size());
    CHECK(source.accounted + listed.size() == files.size());
}

constexpr const char* name = "2014-06-14 Maren Holt & Tomas Brandvik - Harbour Gala";
constexpr const char* bag_name = "2014-06-14_maren-holt-tomas-brandvik_harbour-gala";

}  // namespace

TEST_CASE("a plain old folder whose names can be read is closed out") {
    const OldDrive drive;
    const fs::path job = drive.add_job(name);
    write_file(job / "01_RAW/.DS_Store", "junk");
    const std::string before = tree_fingerprint(drive.old());
    const auto result = drive.migrate();
    REQUIRE(result.bags.size() == 1);
    INFO(result.bags[0].failure << "\n"
                                << listed(result.bags[0].findings)
                                << listed(result.sources[0].left));
    CHECK(result.bags[0].fate == Fate::adopted);
    CHECK(result.ending == Ending::good);
    CHECK(result.sources[0].may_go);
    CHECK(result.sources[0].junk ==
          std::vector<std::string>{std::string(name) + "/01_RAW/.DS_Store"});
    CHECK(result.sources[0].rejected.size() == 1);
    check_sum(drive, result);
    const fs::path bag = drive.fresh() / bag_name;
    CHECK(fs::exists(bag / "data/originals/GLS_0001.DNG"));
    CHECK(fs::exists(bag / "data/print/GLS_0001.jpg"));
    CHECK(fs::exists(bag / "data/web/GLS_0002.jpg"));
    CHECK(fs::exists(bag / "data/reject-proxies/GLS_0003.JPG"));
    // coreutils: the new bag proves itself.
    CHECK(run({"sha512sum", "-c", "--quiet", "manifest-sha512.txt"}, bag).code == 0);
    CHECK(tree_fingerprint(drive.old()) == before);

    const auto again = drive.migrate();
    CHECK(again.bags.at(0).fate == Fate::already);
    CHECK(again.ending == Ending::good);
    check_sum(drive, again);
}

TEST_CASE("what cannot be placed is listed file by file, and nothing of it is carried") {
    const OldDrive drive;
    SECTION("a folder whose name tells no client") {
        drive.add_job("2014-06-14 stuff");
    }
    SECTION("a subfolder that stands for no section") {
        const fs::path job = drive.add_job(name);
        fs::create_directories(job / "album");
        write_file(job / "album/page1.txt", "page");
    }
    SECTION("a file in no section") {
        write_file(drive.add_job(name) / "contract.txt", "signed");
    }
    SECTION("two folders for one section") {
        const fs::path job = drive.add_job(name);
        fs::create_directories(job / "negatives");
        write_file(job / "negatives/a.txt", "a");
    }
    const std::string before = tree_fingerprint(drive.old());
    const auto result = drive.migrate();
    INFO(listed(result.sources.at(0).left));
    CHECK(result.bags.at(0).fate == Fate::failed);
    CHECK(result.ending != Ending::good);
    CHECK_FALSE(result.sources[0].may_go);
    CHECK(result.sources[0].accounted == 0);
    CHECK(fs::is_empty(drive.fresh()));
    check_sum(drive, result);
    CHECK(tree_fingerprint(drive.old()) == before);
}

TEST_CASE("the studio file settles what usual names leave open") {
    const OldDrive drive;
    const fs::path job = drive.add_job("Gala (Holt) 05.06.2014");
    fs::rename(job / "Exports/High Res", job / "Final");
    job::AdoptRules rules;
    rules.patterns = {"{about} ({clients}) {date}"};
    rules.date_order = job::DateOrder::day_first;
    rules.sections[job::index(job::Section::print)] = {"final"};
    const auto result = drive.migrate(rules);
    INFO(listed(result.sources.at(0).left) << result.bags.at(0).failure);
    CHECK(result.bags[0].fate == Fate::adopted);
    CHECK(fs::exists(drive.fresh() / "2014-06-05_holt_gala/data/print/GLS_0001.jpg"));
    check_sum(drive, result);
}

TEST_CASE("checksum lists beside the files are proven in the same read and kept as evidence") {
    const OldDrive drive;
    const fs::path job = drive.add_job(name);
    // coreutils write the lists, in each of their forms.
    REQUIRE(run({"sh", "-c",
                 "md5sum 01_RAW/* > checksums.md5; "
                 "cd Exports/web && sha256sum --tag *.jpg > SHA256SUMS"},
                job)
                .code == 0);
    SECTION("right") {
        const auto result = drive.migrate();
        INFO(listed(result.sources.at(0).left) << listed(result.bags.at(0).findings));
        CHECK(result.bags[0].fate == Fate::adopted);
        CHECK(fs::exists(drive.fresh() / bag_name / "evidence/checksums.md5"));
        CHECK(fs::exists(drive.fresh() / bag_name / "data/web/SHA256SUMS"));
        check_sum(drive, result);
    }
    SECTION("wrong") {
        std::string content = content_of(job / "01_RAW/GLS_0002.xmp");
        content.back() = ' ';
        write_file(job / "01_RAW/GLS_0002.xmp", content + " ");
        fs::remove(job / "Exports/web/GLS_0001.jpg");
        const auto result = drive.migrate();
        INFO(listed(result.bags.at(0).findings));
        CHECK(result.bags[0].fate == Fate::failed);
        CHECK(find(result.bags[0].findings, FindingKind::checksum_mismatch,
                   "01_RAW/GLS_0002.xmp") != nullptr);
        CHECK(find(result.bags[0].findings, FindingKind::checksum_mismatch,
                   "Exports/web/GLS_0001.jpg") != nullptr);
        CHECK(fs::is_empty(drive.fresh()));
        check_sum(drive, result);
    }
}

TEST_CASE("files that stand in no job folder are listed") {
    const OldDrive drive;
    drive.add_job("2014/" + std::string(name));
    write_file(drive.old() / "2014/notes.txt", "notes");
    fs::create_directories(drive.old() / "2014-07-01 Quist wedding");
    write_file(drive.old() / "2014-07-01 Quist wedding/IMG_0001.jpg", "flat");
    const auto result = drive.migrate();
    CHECK(result.ending == Ending::attention);
    CHECK(find(result.sources.at(0).left, FindingKind::unmapped, "2014/notes.txt") != nullptr);
    CHECK(find(result.sources[0].left, FindingKind::unmapped,
               "2014-07-01 Quist wedding/IMG_0001.jpg") != nullptr);
    check_sum(drive, result);
}

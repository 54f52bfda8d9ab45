#include "bag_builder.h"
#include "support/fault_file_system.h"

#include <atomic>
#include <mutex>
#include <set>

using namespace glassine;
using namespace glassine::test;
using digest::Algorithm;

namespace {

/// Remembers which files were opened, and how often.
class Watching : public io::ForwardingFileSystem {
  public:
    Watching() : ForwardingFileSystem(io::posix_file_system()) {}
    std::unique_ptr<io::InputFile> open(const io::Path& path, io::Cache cache) override {
        const std::lock_guard lock(mutex_);
        ++opened[path.filename().string()];
        return target().open(path, cache);
    }
    std::map<std::string, int> opened;

  private:
    std::mutex mutex_;
};

class Progressing : public flow::Observer {
  public:
    void progress(const flow::Progress& p) override {
        backwards |= p.bytes < last.bytes || p.files < last.files || p.bytes > p.total_bytes;
        last = p;
    }
    flow::Progress last;
    bool backwards = false;
};

std::string detail(const bagit::BagReport& report, FindingKind kind, std::string_view path) {
    const Finding* finding = find(report, kind, path);
    INFO(described(report));
    REQUIRE(finding != nullptr);
    return finding->detail;
}

bool says(const std::string& text, std::string_view part) {
    INFO(text);
    return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("a report tells what the bag is") {
    BagBuilder bag = BagBuilder::of("1.0");
    bag.info() = "Contact-Name: Mira Oslander\nClient-Name: Ada\nClient-Name: Bo\n";
    bag.prove();
    const TempFolder folder;
    const auto report = check(bag.write(folder, "2025-09-06_ada-bo"));
    CHECK(report.path == (folder / "2025-09-06_ada-bo"));
    CHECK(report.name == "2025-09-06_ada-bo");
    CHECK(report.bagit_version == "1.0");
    CHECK(report.encoding == "UTF-8");
    CHECK(report.complete);
    CHECK(report.valid == true);
    CHECK(report.files == 2);
    CHECK(report.bytes == 6);
    CHECK(report.info.size() == 3);
    CHECK(report.info[2] == bagit::Element{"Client-Name", "Bo"});
    CHECK(report.seal == BagBuilder::hex(Algorithm::sha512, bag.files["tagmanifest-sha512.txt"]));
    CHECK(report.findings.empty());
}

TEST_CASE("a bag is named by its folder, however it is pointed at") {
    const TempFolder folder;
    const auto bag = BagBuilder::of("1.0").write(folder, "job");
    CHECK(check(bag / ".").name == "job");
    std::filesystem::create_directory_symlink(bag, folder / "link");
    CHECK(check(folder / "link").name == "job");
    CHECK(check(folder / "link").valid == true);
}

TEST_CASE("what is not there, or no folder, cannot be checked") {
    const TempFolder folder;
    CHECK_THROWS_AS(check(folder / "nothing"), Error);
    CHECK_THROWS_AS(check(folder.write("file.txt", "x")), Error);
    const auto empty = folder.path() / "empty";
    std::filesystem::create_directory(empty);
    const auto report = check(empty);
    CHECK(find(report, FindingKind::declaration_missing));
    CHECK(find(report, FindingKind::manifest_missing));
    CHECK(find(report, FindingKind::payload_directory_missing));
    CHECK(report.valid == false);
}

// RFC 8493 §2.2.2-11: Payload-Oxum never makes a bag valid.
TEST_CASE("a quick check reads no payload and claims no validity") {
    BagBuilder bag = BagBuilder::of("1.0");
    bag.info() += "Payload-Oxum: 6.2\n";
    bag.prove();
    bag.files["data/one.txt"] = "0ne";
    const TempFolder folder;
    Watching files;
    bagit::CheckOptions options;
    options.quick = true;
    const auto report = bagit::check_folder(files, bag.write(folder), options);
    CHECK(report.complete);
    CHECK_FALSE(report.valid.has_value());
    CHECK(report.findings.empty());
    CHECK(report.seal.has_value());
    CHECK(files.opened.count("one.txt") == 0);
    CHECK(files.opened["bagit.txt"] == 1);

    bag.files["data/one.txt"] = "longer still";
    bag.files["data/stray"] = "";
    bag.files.erase("data/two/two.txt");
    const auto worse = check(bag, true);
    CHECK_FALSE(worse.complete);
    CHECK(find(worse, FindingKind::oxum_mismatch, "bag-info.txt"));
    CHECK(find(worse, FindingKind::payload_unlisted, "data/stray"));
    CHECK(find(worse, FindingKind::payload_missing, "data/two/two.txt"));
}

TEST_CASE("every file is opened once, and none that nothing lists") {
    BagBuilder bag = BagBuilder::of("1.0");
    bag.payload_algorithms = {Algorithm::md5, Algorithm::sha256, Algorithm::sha512};
    bag.tag_algorithms = {Algorithm::sha256, Algorithm::sha512};
    bag.files["notes/long.bin"] = noise(3'000'000, 1);
    bag.seal();
    bag.files["data/stray.jpg"] = "stray";
    const TempFolder folder;
    Watching files;
    bagit::CheckOptions options;
    options.flow.arrange = false;  // looking up where files lie on the volume opens them, too
    const auto report = bagit::check_folder(files, bag.write(folder), options);
    CHECK(find(report, FindingKind::payload_unlisted, "data/stray.jpg"));
    CHECK(files.opened.count("stray.jpg") == 0);
    for (const auto& [name, times] : files.opened) {
        INFO(name);
        CHECK(times == 1);
    }
}

TEST_CASE("all deviations are told, not only the first") {
    BagBuilder bag;
    for (int i = 0; i < 40; ++i)
        bag.files["data/" + std::to_string(i)] = noise(100, i);
    bag.files["bag-info.txt"] = "Contact-Name: Mira\n";
    bag.seal();
    for (int i = 0; i < 10; ++i)
        bag.files["data/" + std::to_string(i)][50] ^= 1;
    for (int i = 10; i < 20; ++i)
        bag.files.erase("data/" + std::to_string(i));
    for (int i = 0; i < 10; ++i)
        bag.files["data/new" + std::to_string(i)] = "n";
    bag.files["bag-info.txt"] += "A: b\n";
    const auto report = check(bag);
    const auto count = [&](FindingKind kind) {
        return std::ranges::count(report.findings, kind, &Finding::kind);
    };
    CHECK(count(FindingKind::payload_altered) == 10);
    CHECK(count(FindingKind::payload_missing) == 10);
    CHECK(count(FindingKind::payload_unlisted) == 10);
    CHECK(count(FindingKind::tag_altered) == 1);
    CHECK(report.findings.size() == 31);
}

TEST_CASE("an altered file: what can be said of it is said") {
    BagBuilder bag = BagBuilder::of("1.0");
    bag.info() += "Payload-Oxum: 6.2\n";
    bag.prove();
    SECTION("same size") {
        bag.files["data/one.txt"] = "0ne";
        CHECK(says(detail(check(bag), FindingKind::payload_altered, "data/one.txt"),
                   "the size that it had"));
    }
    SECTION("cut off") {
        bag.files["data/one.txt"] = "o";
        CHECK(says(detail(check(bag), FindingKind::payload_altered, "data/one.txt"),
                   "2 bytes shorter"));
    }
    SECTION("grown") {
        bag.files["data/one.txt"] = "one more";
        CHECK(says(detail(check(bag), FindingKind::payload_altered, "data/one.txt"),
                   "5 bytes longer"));
    }
    SECTION("emptied") {
        bag.files["data/one.txt"] = "";
        CHECK(says(detail(check(bag), FindingKind::payload_altered, "data/one.txt"), "empty"));
    }
    SECTION("swapped") {
        std::swap(bag.files["data/one.txt"], bag.files["data/two/two.txt"]);
        const auto report = check(bag);
        CHECK(says(detail(report, FindingKind::payload_altered, "data/one.txt"),
                   "what belongs to “data/two/two.txt”"));
        CHECK(says(detail(report, FindingKind::payload_altered, "data/two/two.txt"),
                   "what belongs to “data/one.txt”"));
    }
    SECTION("manifests that contradict each other") {
        bag.files["manifest-md5.txt"] =
            bag.line(Algorithm::md5, "data/one.txt") + bag.line(Algorithm::md5, "data/two/two.txt");
        char& digit = bag.files["manifest-md5.txt"][0];
        digit = digit == '0' ? '1' : '0';
        bag.prove();
        CHECK(says(detail(check(bag), FindingKind::payload_altered, "data/one.txt"),
                   "contradict each other"));
    }
}

TEST_CASE("a moved file is told as one, not as lost and stray") {
    BagBuilder bag;
    bag.files = {{"data/a/x.jpg", "same"}, {"data/b/x.jpg", "same"}, {"data/c.jpg", "other"}};
    bag.seal();
    bag.files = {{"data/a/y.jpg", "same"},
                 {"data/z/x.jpg", "same"},
                 {"data/d.jpg", "new"},
                 {"bagit.txt", bag.files["bagit.txt"]},
                 {"manifest-sha512.txt", bag.files["manifest-sha512.txt"]}};
    const auto report = check(bag);
    INFO(described(report));
    CHECK_FALSE(report.complete);
    CHECK(says(detail(report, FindingKind::payload_moved, "data/a/x.jpg"), "data/z/x.jpg"));
    CHECK(says(detail(report, FindingKind::payload_moved, "data/b/x.jpg"), "data/a/y.jpg"));
    CHECK(find(report, FindingKind::payload_missing, "data/c.jpg"));
    CHECK(find(report, FindingKind::payload_unlisted, "data/d.jpg"));
    CHECK(report.findings.size() == 4);
}

TEST_CASE("holes in a payload file are told with their place") {
    BagBuilder bag;
    bag.files["data/big.raw"] = noise(40'000, 3);
    bag.seal();
    const TempFolder folder;
    const auto path = bag.write(folder);
    FaultFileSystem files(io::posix_file_system());
    files.damage("big.raw", 3);
    const auto report = bagit::check_folder(files, path, {});
    const Finding* hole = find(report, FindingKind::unreadable, "data/big.raw");
    INFO(described(report));
    REQUIRE(hole != nullptr);
    CHECK(hole->offset == 3 * 4096);
    CHECK(hole->length == 4096);
    CHECK(report.complete);
    CHECK(report.valid == false);
    CHECK(report.findings.size() == 1);
}

TEST_CASE("a manifest with a hole still proves what its other lines list") {
    BagBuilder bag;
    for (int i = 100; i < 300; ++i)
        bag.files["data/" + std::to_string(i)] = std::to_string(i);
    bag.seal();
    bag.files["data/290"] = "altered";
    const TempFolder folder;
    const auto path = bag.write(folder);
    FaultFileSystem files(io::posix_file_system());
    files.damage("/manifest-sha512.txt", 1);
    const auto report = bagit::check_folder(files, path, {});
    INFO(described(report));
    CHECK(find(report, FindingKind::unreadable, "manifest-sha512.txt"));
    CHECK(find(report, FindingKind::payload_altered, "data/290"));
    CHECK(report.valid == false);
    CHECK_FALSE(report.complete);
    for (const Finding& f : report.findings)
        if (f.kind == FindingKind::payload_unlisted) CHECK(f.severity == Severity::warning);
}

TEST_CASE("an unreadable bagit.txt or folder does not stop the rest") {
    const BagBuilder bag = BagBuilder::of("1.0");
    const TempFolder folder;
    const auto path = bag.write(folder);
    FaultFileSystem files(io::posix_file_system());
    files.damage("bagit.txt", 0);
    const auto report = bagit::check_folder(files, path, {});
    INFO(described(report));
    CHECK(find(report, FindingKind::unreadable, "bagit.txt"));
    CHECK_FALSE(find(report, FindingKind::declaration_missing));
    CHECK(report.valid == false);
}

TEST_CASE("whoever watches sees one run over all bytes") {
    BagBuilder bag;
    for (int i = 0; i < 30; ++i)
        bag.files["data/" + std::to_string(i)] = noise(50'000, i);
    bag.seal();
    const TempFolder folder;
    Progressing observer;
    bagit::CheckOptions options;
    options.flow.observer = &observer;
    const auto report = bagit::check_folder(io::posix_file_system(), bag.write(folder), options);
    CHECK(report.valid == true);
    CHECK_FALSE(observer.backwards);
    CHECK(observer.last.bytes + bag.files["bagit.txt"].size() == report.bytes_read);
    CHECK(report.bytes_read > 1'500'000);
}

TEST_CASE("a stopped check says so and judges nothing") {
    const BagBuilder bag = BagBuilder::of("1.0");
    const TempFolder folder;
    std::stop_source stop;
    bagit::CheckOptions options;
    options.flow.stop = stop.get_token();
    stop.request_stop();
    const auto report = bagit::check_folder(io::posix_file_system(), bag.write(folder), options);
    CHECK(report.stopped);
    CHECK_FALSE(report.valid.has_value());
}

TEST_CASE("findings without end are counted, and damage is never crowded out") {
    BagBuilder bag;
    bag.seal();
    for (int i = 0; i < 500; ++i)
        bag.manifest() += "nonsense " + std::to_string(i) + "\n";
    for (int i = 0; i < 500; ++i)
        bag.files["data/con." + std::to_string(i)] = "";
    const TempFolder folder;
    bagit::CheckOptions options;
    options.most_findings = 100;
    const auto report = bagit::check_folder(io::posix_file_system(), bag.write(folder), options);
    CHECK(report.findings.size() < 250);
    CHECK(report.valid == false);
    const bool summary = std::ranges::any_of(report.findings, [](const Finding& f) {
        return f.path.empty() && f.detail.find("more of this kind") != std::string::npos;
    });
    CHECK(summary);
    CHECK(find(report, FindingKind::name_not_portable));
    CHECK(find(report, FindingKind::payload_unlisted));
}

TEST_CASE("bags are found in a tree, but not those inside a bag") {
    const TempFolder folder;
    BagBuilder outer = BagBuilder::of("1.0");
    for (const auto& [path, content] : BagBuilder::of("1.0").files)
        outer.files["data/inner/" + path] = content;
    outer.seal();
    outer.write(folder, "2024/first");
    BagBuilder::of("0.97").write(folder, "2023/second");
    folder.write("2023/notes.txt", "x");
    auto& files = io::posix_file_system();
    const auto none = [](const std::string&, const Error&) { FAIL("nothing is unreadable here"); };
    const auto bags = bagit::find_bags(files, folder.path(), none);
    CHECK(bags == std::vector<io::Path>{folder / "2023/second", folder / "2024/first"});
    CHECK(bagit::find_bags(files, folder / "2024/first", none).size() == 1);
    CHECK(check(folder / "2024/first").valid == true);
}

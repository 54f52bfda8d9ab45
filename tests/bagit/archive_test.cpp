#include "glassine/bagit/archive.h"

#include "bag_builder.h"
#include "support/fault_file_system.h"

#include <cstdlib>
#include <mutex>
#include <numeric>

using namespace glassine;
using namespace glassine::test;
using bagit::Listing;

namespace {

/// Packs a folder with GNU tar or Info-ZIP.
std::filesystem::path pack(const TempFolder& folder, const std::string& command) {
    REQUIRE(std::system(("cd '" + folder.path().string() + "' && " + command).c_str()) == 0);
    return folder.path();
}

/// Keeps what comes, by name.
class Keeping : public flow::Sink {
  public:
    std::unique_ptr<flow::Stream> open(const flow::Item& item) override {
        return std::make_unique<File>(*this, item.name);
    }
    std::map<std::string, std::string> files;

  private:
    struct File : flow::Stream {
        File(Keeping& k, std::string n) : keeping(k), name(std::move(n)) {}
        void block(std::uint64_t, std::span<const std::byte> bytes) override {
            content.append(reinterpret_cast<const char*>(bytes.data()), bytes.size());
        }
        void finish(const flow::Outcome&) override {
            const std::lock_guard lock(keeping.mutex);
            keeping.files[name] = content;
        }
        Keeping& keeping;
        std::string name;
        std::string content;
    };
    std::mutex mutex;
};

std::map<std::string, std::string> read_all(bagit::ArchivedBag& archive,
                                            const std::vector<Listing::Index>& chosen) {
    Keeping keeping;
    flow::Sink* sinks[] = {&keeping};
    const auto result = archive.read(chosen,
                                     [&](Listing::Index file) {
                                         flow::Item item;
                                         item.id = file;
                                         item.name =
                                             std::string(archive.bag().listing()[file].name);
                                         return item;
                                     },
                                     sinks, {});
    CHECK(result.files == chosen.size());
    return keeping.files;
}

}  // namespace

TEST_CASE("names of archives") {
    for (const std::string name : {"a.tar", "a.tar.gz", "a.TGZ", "a.tar.zst", "a.tzst", "a.tar.bz2",
                                   "a.tbz2", "a.tar.xz", "a.txz", "a.zip", "a.Zip"}) {
        CHECK(bagit::is_archive_name(name));
        CHECK(bagit::archive_stem(name) == "a");
    }
    for (const std::string name : {"a", "a.gz", "tar", ".tar", ".zip", "a.tar.txt", "a.rar"})
        CHECK_FALSE(bagit::is_archive_name(name));
    CHECK(bagit::archive_stem("2025-06-14_holt.gala.tar.gz") == "2025-06-14_holt.gala");
}

// Outside witness: GNU tar with its own compressors, and sparse files in its own form.
TEST_CASE("what GNU tar packs is read, compressed or with holes") {
    const TempFolder folder;
    BagBuilder bag = BagBuilder::of("1.0");
    bag.files["data/holes.bin"] = std::string(300'000, '\0') + "end" + std::string(100'000, '\0');
    bag.seal();
    bag.write(folder, "bag");
    pack(folder,
         "cp --sparse=always bag/data/holes.bin s && mv s bag/data/holes.bin && "
         "tar -S --format=gnu -cf gnu.tar bag && tar -S --format=pax -cf pax.tar bag && "
         "tar -czf bag.tar.gz bag");
    for (const std::string name : {"gnu.tar", "pax.tar", "bag.tar.gz"}) {
        const auto report = bagit::check_archive(io::posix_file_system(), folder / name, {});
        INFO(name << " " << described(report));
        CHECK(report.valid == true);
    }
}

TEST_CASE("an archive in zstd is read") {
    if (std::system("command -v zstd > /dev/null") != 0) {
        WARN("SKIPPED: there is no zstd here");
        return;
    }
    const TempFolder folder;
    BagBuilder::of("1.0").write(folder, "bag");
    pack(folder, "tar --zstd -cf bag.tar.zst bag");
    const auto report = bagit::check_archive(io::posix_file_system(), folder / "bag.tar.zst", {});
    CHECK(report.valid == true);
    CHECK(report.archive == "application/zstd");
}

TEST_CASE("chosen files of an archive come whole, under the names that are asked for") {
    const TempFolder folder;
    BagBuilder bag = BagBuilder::of("1.0");
    bag.files["data/large.bin"] = noise(1'500'000, 4);
    bag.seal();
    bag.write(folder, "bag");
    pack(folder,
         "tar -cf bag.tar bag && tar -czf bag.tar.gz bag && ln bag/data/one.txt bag/data/two/"
         "link.txt && tar -czf linked.tar.gz bag && tar -cf linked.tar bag");
    for (const std::string name : {"bag.tar", "bag.tar.gz", "linked.tar", "linked.tar.gz"}) {
        INFO(name);
        bagit::ArchivedBag archive(io::posix_file_system(), folder / name, {}, {});
        const bool linked = name.starts_with("linked");
        CHECK(archive.contents().plain == name.ends_with(".tar"));
        CHECK((archive.as_files() != nullptr) == archive.contents().plain);
        CHECK(archive.contents().bag_name == "bag");
        CHECK(archive.bag().complete() == !linked);
        const Listing& listing = archive.bag().listing();
        std::vector<Listing::Index> chosen;
        std::map<std::string, std::string> expected;
        for (Listing::Index i = listing.size(); i-- > 0;) {
            if (!listing.is_file(i) || !bagit::in_payload(listing[i].name)) continue;
            chosen.push_back(i);
            const std::string path(listing[i].name);
            expected[path] = bag.files[path == "data/two/link.txt" ? "data/one.txt" : path];
        }
        CHECK(expected.size() == (linked ? 4 : 3));
        CHECK(read_all(archive, chosen) == expected);
        CHECK(read_all(archive, {chosen.front()}).size() == 1);
    }
}

TEST_CASE("a plain archive can be walked through like a folder") {
    const TempFolder folder;
    BagBuilder bag = BagBuilder::of("1.0");
    bag.files["data/a/b/c.txt"] = "c";
    bag.files["data/a-b.txt"] = "ab";
    bag.seal();
    bag.write(folder, "bag");
    pack(folder, "tar -cf bag.tar $(find bag -type f) && zip -q0r bag.zip bag");
    for (const std::string name : {"bag.tar", "bag.zip"}) {
        INFO(name);
        bagit::ArchivedBag archive(io::posix_file_system(), folder / name, {}, {});
        REQUIRE(archive.as_files() != nullptr);
        io::FileSystem& files = *archive.as_files();
        const auto report = bagit::check_folder(files, archive.folder(), {});
        INFO(described(report));
        CHECK(report.valid == true);
        CHECK(files.list(archive.folder() / "data").size() == 4);
        CHECK(files.info(archive.folder() / "data/a").type == io::FileType::directory);
        CHECK_FALSE(files.find(archive.folder() / "data/none"));
        CHECK_THROWS_AS(files.open(archive.folder() / "data/none", io::Cache::use), Error);
        CHECK_THROWS_AS(files.create(archive.folder() / "new"), Error);
        CHECK_THROWS_AS(files.remove_file(archive.folder() / "data/a-b.txt"), Error);
        // Everything else is the disk itself.
        CHECK(files.find(folder / "bag/bagit.txt"));
    }
}

TEST_CASE("a sector that cannot be read costs a plain archive one file") {
    const TempFolder folder;
    BagBuilder bag = BagBuilder::of("1.0");
    bag.files["data/large.bin"] = noise(500'000, 4);
    bag.seal();
    bag.write(folder, "bag");
    pack(folder,
         "tar -cf bag.tar bag/bagit.txt bag/bag-info.txt bag/manifest-sha512.txt "
         "bag/tagmanifest-sha512.txt bag/data/large.bin bag/data/one.txt bag/data/two");
    FaultFileSystem files(io::posix_file_system());
    files.damage("bag.tar", 60);
    const auto report = bagit::check_archive(files, folder / "bag.tar", {});
    INFO(described(report));
    const Finding* lost = find(report, FindingKind::unreadable, "data/large.bin");
    REQUIRE(lost);
    CHECK(lost->length.value_or(0) <= 8192);
    CHECK(report.findings.size() == 1);
    CHECK(report.valid == false);
    CHECK(report.complete);
}

TEST_CASE("an archive that changes while it is read is told") {
    const TempFolder folder;
    BagBuilder::of("1.0").write(folder, "bag");
    pack(folder, "tar -cf bag.tar bag");
    bagit::ArchivedBag archive(io::posix_file_system(), folder / "bag.tar", {}, {});
    const std::string content = content_of(folder / "bag.tar");
    write_file(folder / "bag.tar", content + std::string(512, '\0'));
    const auto report = bagit::check_folder(*archive.as_files(), archive.folder(), {});
    CHECK(find(report, FindingKind::changed_while_reading));
    CHECK(report.valid == false);
}

TEST_CASE("a folder of archives is looked through") {
    const TempFolder folder;
    BagBuilder::of("1.0").write(folder, "bag");
    pack(folder,
         "mkdir drive && tar -cf drive/bag.tar bag && tar -czf drive/bag.tar.gz bag && "
         "cp -r bag drive/folder && cp drive/bag.tar drive/folder/data/");
    std::vector<std::string> archives;
    const auto bags = bagit::find_bags(
        io::posix_file_system(), folder / "drive", [](const std::string&, const Error&) {},
        [&](const io::Path& path) { archives.push_back(path.filename().string()); });
    CHECK(bags.size() == 1);
    CHECK(archives == std::vector<std::string>{"bag.tar", "bag.tar.gz"});
}

TEST_CASE("stopping ends the reading of an archive") {
    const TempFolder folder;
    BagBuilder::of("1.0").write(folder, "bag");
    pack(folder, "tar -cf bag.tar bag && tar -czf bag.tar.gz bag");
    std::stop_source stop;
    stop.request_stop();
    for (const std::string name : {"bag.tar", "bag.tar.gz"}) {
        bagit::CheckOptions options;
        options.flow.stop = stop.get_token();
        const auto report = bagit::check_archive(io::posix_file_system(), folder / name, options);
        CHECK(report.stopped);
        CHECK_FALSE(report.valid.has_value());
        flow::Options flow;
        flow.stop = stop.get_token();
        CHECK_THROWS_AS(bagit::ArchivedBag(io::posix_file_system(), folder / name, {}, flow),
                        Error);
    }
}

// Found by the fuzzer: the first member ("./", as tar packs a folder from inside) has a name of
// nothing, and copying nothing to nowhere is undefined.
TEST_CASE("a member that is the archive's own top is passed over") {
    const TempFolder folder;
    BagBuilder::of("1.0").write(folder, "bag");
    pack(folder, "cd bag && tar -cf ../bag.tar .");
    const auto report = bagit::check_archive(io::posix_file_system(), folder / "bag.tar", {});
    INFO(described(report));
    CHECK(report.findings.size() == 1);
    CHECK(find(report, FindingKind::archive_malformed));
    CHECK(report.files == 2);
}

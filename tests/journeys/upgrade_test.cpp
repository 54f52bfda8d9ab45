#include "journeys/two_drives.h"

#include <algorithm>
#include <atomic>

using namespace glassine;
using namespace glassine::test;
using report::Ending;
using report::Fate;
namespace fs = std::filesystem;

namespace {

/// Counts the bytes that are read of files whose path holds a word.
class CountingFileSystem : public io::ForwardingFileSystem {
  public:
    CountingFileSystem(io::FileSystem& target, std::string word)
        : ForwardingFileSystem(target), word_(std::move(word)) {}
    std::unique_ptr<io::InputFile> open(const io::Path& path, io::Cache cache) override {
        auto file = target().open(path, cache);
        if (path.string().find(word_) == std::string::npos) return file;
        return std::make_unique<Counting>(std::move(file), bytes);
    }
    std::atomic<std::uint64_t> bytes{0};

  private:
    class Counting : public io::InputFile {
      public:
        Counting(std::unique_ptr<io::InputFile> file, std::atomic<std::uint64_t>& bytes)
            : file_(std::move(file)), bytes_(bytes) {}
        std::size_t read(std::uint64_t offset, std::span<std::byte> into) override {
            const std::size_t got = file_->read(offset, into);
            bytes_ += got;
            return got;
        }
        io::FileInfo info() override { return file_->info(); }
        io::Bypass bypass() const override { return file_->bypass(); }
        std::optional<std::uint64_t> physical_position() override {
            return file_->physical_position();
        }

      private:
        std::unique_ptr<io::InputFile> file_;
        std::atomic<std::uint64_t>& bytes_;
    };
    std::string word_;
};

struct Shelf : TwoDrives {
    fs::path add_bag(const std::string& version) const {
        return TwoDrives::add_bag(version, "bag-" + version);
    }
    report::MigrateResult migrate(io::FileSystem& files = io::posix_file_system()) const {
        auto upgrading = request();
        upgrading.upgrade = true;
        upgrading.recovery_percent = 10;
        return journeys::migrate(context(files), upgrading);
    }
};

}  // namespace

TEST_CASE("old bags become BagIt 1.0 bags with SHA-512, their previous tag files kept") {
    for (const std::string version : {"0.93", "0.94", "0.95", "0.96", "0.97"}) {
        const Shelf shelf;
        const fs::path old = shelf.add_bag(version);
        const std::string before = tree_fingerprint(shelf.old());
        const auto result = shelf.migrate();
        INFO(version << " " << result.bags.at(0).failure << listed(result.bags[0].findings));
        REQUIRE(result.bags[0].fate == Fate::upgraded);
        CHECK(result.ending == Ending::good);
        CHECK(tree_fingerprint(shelf.old()) == before);
        const fs::path bag = shelf.fresh() / old.filename();
        const auto report = bagit::check_folder(io::posix_file_system(), bag, {});
        CHECK(report.bagit_version == "1.0");
        CHECK(report.valid == true);
        // coreutils: both manifests prove the bag without Glassine.
        for (const char* manifest : {"manifest-sha512.txt", "tagmanifest-sha512.txt"}) {
            // A name with a per cent sign is escaped in manifests, which coreutils do not know.
            const auto checked =
                run({"sh", "-c", std::string("grep -v % ") + manifest + " | sha512sum -c --quiet"},
                    bag);
            INFO(manifest << checked.out << checked.err);
            CHECK(checked.code == 0);
        }
        for (const auto& entry : fs::recursive_directory_iterator(old)) {
            if (!entry.is_regular_file()) continue;
            const std::string name = fs::relative(entry.path(), old).string();
            INFO(name);
            const fs::path there = name.starts_with("data/") ? bag / name : bag / "previous" / name;
            REQUIRE(fs::exists(there));
            CHECK(content_of(there) == content_of(entry.path()));
            CHECK(fs::last_write_time(there) == fs::last_write_time(entry.path()));
        }
        CHECK(fs::exists(bag / "recovery"));
        CHECK(fs::exists(bag / "photo-index/frames.csv"));
        CHECK(content_of(bag / "events.jsonl").find("upgraded from BagIt " + version) !=
              std::string::npos);
        const auto again = shelf.migrate();
        CHECK(again.bags.at(0).fate == Fate::already);
    }
}

TEST_CASE("an old bag in an archive becomes a folder that is a new bag") {
    // GNU tar, and zipfile of Python's standard library: as a library it stores.
    const char* const store =
        "import pathlib, zipfile\n"
        "with zipfile.ZipFile('bag-0.97.zip', 'w') as packed:\n"
        "    for path in sorted(pathlib.Path('bag-0.97').rglob('*')): packed.write(path)\n";
    const std::vector<std::vector<std::string>> packers{{"tar", "-cf", "bag-0.97.tar", "bag-0.97"},
                                                        {"python3", "-c", store}};
    for (const auto& packer : packers) {
        const Shelf shelf;
        const fs::path old = shelf.add_bag("0.97");
        REQUIRE(run(packer, shelf.old()).code == 0);
        const fs::path kept = shelf.folder / "kept";
        fs::rename(old, kept);
        const auto result = shelf.migrate();
        REQUIRE(result.bags.size() == 1);
        INFO(result.bags[0].failure << listed(result.bags[0].findings));
        CHECK(result.bags[0].fate == Fate::upgraded);
        CHECK(result.bags[0].files == 1);
        CHECK(result.sources[0].accounted == result.sources[0].files);
        const fs::path bag = shelf.fresh() / "bag-0.97";
        const auto report = bagit::check_folder(io::posix_file_system(), bag, {});
        CHECK(report.bagit_version == "1.0");
        CHECK(report.valid == true);
        for (const auto& entry : fs::recursive_directory_iterator(kept / "data"))
            if (entry.is_regular_file())
                CHECK(content_of(bag / "data" / fs::relative(entry.path(), kept / "data")) ==
                      content_of(entry.path()));
        CHECK(shelf.migrate().bags.at(0).fate == Fate::already);
    }
}

TEST_CASE("a compressed archive is carried as it is, and that is told") {
    const Shelf shelf;
    shelf.add_bag("0.97");
    REQUIRE(run({"tar", "-czf", "bag-0.97.tgz", "--remove-files", "bag-0.97"}, shelf.old()).code ==
            0);
    const auto result = shelf.migrate();
    CHECK(result.bags.at(0).fate == Fate::carried);
    CHECK(find(result.bags[0].findings, FindingKind::not_upgraded) != nullptr);
}

TEST_CASE("a damaged archive is carried packed as it is, and not upgraded") {
    const Shelf shelf;
    shelf.add_bag("0.97");
    REQUIRE(run({"tar", "-cf", "bag-0.97.tar", "--remove-files", "bag-0.97"}, shelf.old()).code ==
            0);
    std::string content = content_of(shelf.old() / "bag-0.97.tar");
    content.resize(content.size() / 2);
    write_file(shelf.old() / "bag-0.97.tar", content);
    const auto result = shelf.migrate();
    CHECK(result.bags.at(0).fate == Fate::damaged);
    CHECK(content_of(shelf.fresh() / "bag-0.97.tar") == content);
}

TEST_CASE("a bag that is as bags are made today is carried as it is") {
    const Shelf shelf;
    shelf.add_bag("1.0");
    CHECK(shelf.migrate().bags.at(0).fate == Fate::carried);
}

TEST_CASE("upgrading costs no second read: each byte of the payload is read once") {
    const Shelf shelf;
    const fs::path bag = shelf.add_bag("0.97");
    std::uint64_t payload = 0;
    for (const auto& entry : fs::recursive_directory_iterator(bag / "data"))
        if (entry.is_regular_file()) payload += entry.file_size();
    CountingFileSystem files(io::posix_file_system(), "old/bag-0.97/data/");
    CHECK(shelf.migrate(files).bags.at(0).fate == Fate::upgraded);
    CHECK(files.bytes == payload);
}

TEST_CASE("a damaged bag is not upgraded: new manifests would call the damage right") {
    const Shelf shelf;
    const fs::path bag = shelf.add_bag("0.97");
    for (const auto& entry : fs::recursive_directory_iterator(bag / "data")) {
        if (!entry.is_regular_file() || entry.file_size() == 0) continue;
        std::string content = content_of(entry.path());
        content[0] = static_cast<char>(content[0] ^ 1);
        write_file(entry.path(), content);
        break;
    }
    const auto result = shelf.migrate();
    CHECK(result.bags.at(0).fate == Fate::damaged);
    CHECK(result.ending == Ending::attention);
    CHECK(find(result.bags[0].findings, FindingKind::payload_altered) != nullptr);
    CHECK(find(result.bags[0].findings, FindingKind::not_upgraded) != nullptr);
    CHECK_FALSE(fs::exists(shelf.fresh() / bag.filename() / "previous"));
}

#include "bag_builder.h"
#include "support/effort.h"

#include <mutex>
#include <set>

#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

using namespace glassine;
using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

/// Remembers every path that is asked for in any way but by its name in a folder's list.
class Witness : public io::ForwardingFileSystem {
  public:
    Witness() : ForwardingFileSystem(io::posix_file_system()) {}
    std::unique_ptr<io::InputFile> open(const io::Path& path, io::Cache cache) override {
        const std::lock_guard lock(mutex_);
        opened.insert(path.string());
        return target().open(path, cache);
    }
    std::set<std::string> opened;

  private:
    std::mutex mutex_;
};

/// A bag and, beside it, a folder that must stay untouched and unread.
struct Scene {
    TempFolder folder;
    BagBuilder bag = BagBuilder::of("1.0");
    Witness files;

    Scene() { folder.write("outside/secret.txt", "secret"); }
    fs::path write() { return bag.write(folder); }
    bagit::BagReport check() {
        const std::string before = tree_fingerprint(folder / "outside");
        auto report = bagit::check_folder(files, folder / "bag", {});
        CHECK(tree_fingerprint(folder / "outside") == before);
        const std::string inside = fs::canonical(folder / "bag").string() + "/";
        for (const std::string& path : files.opened) {
            INFO(path);
            CHECK(path.starts_with(inside));
            CHECK(path.find("..") == std::string::npos);
        }
        return report;
    }
};

}  // namespace

TEST_CASE("a symbolic link in the payload is told and not followed") {
    Scene scene;
    const auto bag = scene.write();
    fs::remove(bag / "data/one.txt");
    fs::create_symlink(scene.folder / "outside/secret.txt", bag / "data/one.txt");
    const auto report = scene.check();
    INFO(described(report));
    CHECK(find(report, FindingKind::special_file, "data/one.txt"));
    CHECK(report.valid == false);
    CHECK(scene.files.opened.count((bag / "data/one.txt").string()) == 0);
}

TEST_CASE("a linked folder on the way to a file is not followed, even to the right file") {
    Scene scene;
    const auto bag = scene.write();
    fs::rename(bag / "data/two", scene.folder / "outside/two");
    fs::create_directory_symlink(scene.folder / "outside/two", bag / "data/two");
    const auto report = scene.check();
    INFO(described(report));
    CHECK(find(report, FindingKind::special_file, "data/two"));
    CHECK(find(report, FindingKind::payload_missing, "data/two/two.txt"));
}

TEST_CASE("data/ itself may be no link") {
    Scene scene;
    const auto bag = scene.write();
    fs::rename(bag / "data", scene.folder / "outside/data");
    fs::create_directory_symlink(scene.folder / "outside/data", bag / "data");
    const auto report = scene.check();
    CHECK(find(report, FindingKind::special_file, "data"));
    CHECK(find(report, FindingKind::payload_directory_missing));
    CHECK_FALSE(report.complete);
}

TEST_CASE("tag files that are links are not read") {
    for (const char* name : {"bagit.txt", "bag-info.txt", "manifest-sha512.txt",
                             "tagmanifest-sha512.txt", "fetch.txt"}) {
        INFO(name);
        Scene scene;
        const auto bag = scene.write();
        fs::remove(bag / name);
        fs::create_symlink(scene.folder / "outside/secret.txt", bag / name);
        const auto report = scene.check();
        CHECK(find(report, FindingKind::special_file, name));
        CHECK(report.valid == false);
    }
}

TEST_CASE("links in circles end the walk") {
    Scene scene;
    const auto bag = scene.write();
    fs::create_directory_symlink("..", bag / "data/up");
    fs::create_directory_symlink(bag, bag / "data/two/bag");
    fs::create_symlink("self", bag / "data/self");
    const auto report = scene.check();
    CHECK(find(report, FindingKind::special_file, "data/up"));
    CHECK(find(report, FindingKind::special_file, "data/two/bag"));
    CHECK(find(report, FindingKind::special_file, "data/self"));
    CHECK(report.findings.size() == 3);
}

TEST_CASE("pipes and sockets are told and never opened") {
    Scene scene;
    const auto bag = scene.write();
    REQUIRE(mkfifo((bag / "data/pipe").c_str(), 0600) == 0);
    REQUIRE(mkfifo((bag / "fetch.txt").c_str(), 0600) == 0);
    const int socket_fd = socket(AF_UNIX, SOCK_STREAM, 0);
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    const std::string at = (bag / "data/s").string();
    REQUIRE(at.size() < sizeof address.sun_path);
    at.copy(address.sun_path, at.size());
    REQUIRE(bind(socket_fd, reinterpret_cast<sockaddr*>(&address), sizeof address) == 0);
    const auto report = scene.check();
    close(socket_fd);
    CHECK(find(report, FindingKind::special_file, "data/pipe"));
    CHECK(find(report, FindingKind::special_file, "data/s"));
    CHECK(find(report, FindingKind::special_file, "fetch.txt"));
}

TEST_CASE("a hard link is a file like others") {
    Scene scene;
    const auto bag = scene.write();
    fs::create_hard_link(bag / "data/one.txt", scene.folder / "one-again.txt");
    CHECK(scene.check().valid == true);
}

TEST_CASE("folders where the standard has files") {
    Scene scene;
    scene.bag.files.erase("bag-info.txt");
    scene.bag.prove();
    const auto bag = scene.write();
    fs::create_directories(bag / "bag-info.txt");
    fs::create_directories(bag / "manifest-md5.txt");
    const auto report = scene.check();
    CHECK(find(report, FindingKind::tag_malformed, "bag-info.txt"));
    CHECK(find(report, FindingKind::tag_malformed, "manifest-md5.txt"));
}

TEST_CASE("paths out of the bag are never opened") {
    const std::string zeros(128, '0');
    for (const std::string path :
         {"../outside/secret.txt", "data/../../outside/secret.txt", "/etc/hostname",
          "data/two/../../../outside/secret.txt", "data\\..\\..\\outside\\secret.txt"}) {
        INFO(path);
        Scene scene;
        scene.bag.manifest() += zeros + "  " + path + "\n";
        scene.bag.files["fetch.txt"] = "https://example.org/x - " + path + "\n";
        scene.bag.prove();
        scene.bag.files["tagmanifest-sha512.txt"] += zeros + "  " + path + "\n";
        scene.write();
        const auto report = scene.check();
        CHECK(std::ranges::count(report.findings, FindingKind::path_unsafe, &Finding::kind) == 3);
        CHECK(report.valid == false);
    }
}

TEST_CASE("lines of many megabytes and lines without number") {
    Scene scene;
    SECTION("one line without end in every tag file") {
        const std::string line(3'000'000, 'a');
        for (const char* name : {"bagit.txt", "bag-info.txt", "fetch.txt", "manifest-sha512.txt",
                                 "tagmanifest-sha512.txt"})
            scene.bag.files[name] = line;
    }
    SECTION("empty lines") {
        scene.bag.manifest() += std::string(1'000'000, '\n');
        scene.bag.info() += std::string(1'000'000, '\r');
    }
    SECTION("NUL bytes") {
        for (auto& [path, content] : scene.bag.files)
            content = std::string(100'000, '\0');
    }
    SECTION("blanks") {
        for (auto& [path, content] : scene.bag.files)
            content = std::string(200'000, ' ');
    }
    SECTION("noise") {
        for (auto& [path, content] : scene.bag.files)
            content = noise(200'000, 9);
    }
    SECTION("a flood of entries that are not there") {
        const std::string zeros(128, '0');
        for (int i = 0; i < 20'000; ++i)
            scene.bag.manifest() += zeros + "  data/" + std::to_string(i) + "\n";
    }
    scene.write();
    const auto report = scene.check();
    CHECK(report.valid == false);
    CHECK(report.findings.size() < 200'000);
    for (const Finding& f : report.findings)
        CHECK(f.detail.size() < 1000);
}

// Small tag files cut at every length and flipped at every byte: no crash, nothing slips through.
TEST_CASE("tag files, cut and flipped everywhere") {
    const TempFolder folder;
    const BagBuilder good = BagBuilder::of("1.0");
    const auto path = good.write(folder);
    for (const char* name :
         {"bagit.txt", "bag-info.txt", "manifest-sha512.txt", "tagmanifest-sha512.txt"}) {
        const std::string& content = good.files.at(name);
        const bool sealing = std::string_view(name) == "tagmanifest-sha512.txt";
        for (std::size_t at = 0; at < content.size();
             at += 1 + content.size() / (sanitized ? 12 : 60)) {
            INFO(name << " at " << at);
            write_file(path / name, content.substr(0, at));
            const auto cut = check(path);
            CHECK((cut.valid == false || (sealing && at > 0 && cut.findings.size() > 0) ||
                   (sealing && at == 0)));
            std::string flipped = content;
            flipped[at] = static_cast<char>(flipped[at] ^ 0x10);
            write_file(path / name, flipped);
            CHECK(check(path).valid == false);
        }
        write_file(path / name, content);
    }
    CHECK(check(path).valid == true);
}

#include "glassine/shelf/volume.h"

#include "glassine/shelf/volume_log.h"
#include "support/temp_folder.h"

#include <map>
#include <thread>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::shelf;

namespace {

/// The real file system, with media of the test's choosing below some folders.
class Media : public io::ForwardingFileSystem {
  public:
    Media() : ForwardingFileSystem(io::posix_file_system()) {}
    std::map<io::Path, io::Volume> media;
    std::map<io::Path, std::uint64_t> devices;

    io::Volume volume(const io::Path& path) override {
        io::Volume found;
        for (const auto& [root, medium] : media) {
            if (path.string().starts_with(root.string())) found = medium;
        }
        return found;
    }
    io::FileInfo info(const io::Path& path) override {
        io::FileInfo info = target().info(path);
        for (const auto& [root, device] : devices) {
            if (path.string().starts_with(root.string())) info.device = device;
        }
        return info;
    }
};

VolumeDetails drive(std::string label) {
    VolumeDetails details;
    details.label = std::move(label);
    details.place = "cupboard B";
    details.purchase = "two from the corner shop, 2025-03";
    return details;
}

io::Volume medium(std::string id, std::string serial) {
    io::Volume volume;
    volume.id = std::move(id);
    volume.model = "Quietspin 4";
    volume.serial = std::move(serial);
    return volume;
}

}  // namespace

TEST_CASE("an identity comes back from its file as it was written") {
    VolumeIdentity identity;
    identity.id = "5c0f0e0e-5a67-4a53-9d5c-0b6f3f0f6f11";
    identity.label = "SHELF \"07\"";
    identity.place = "B\xC3\xBCro, \xD7\xA9";
    identity.kind = VolumeKind::offsite;
    identity.in_service = parse_date("2024-02-29");
    identity.capacity = 8'000'000'000'000;
    identity.file_system_id = "abcd-ef01";
    identity.model = "Quietspin 4";
    identity.serial = "Q-1";
    identity.purchase = "2024-02";
    identity.written = *parse_rfc3339("2025-01-01T10:00:00Z");
    CHECK(parse_identity(to_json(identity)) == identity);

    const VolumeIdentity bare{"x", "", "", VolumeKind::server, {}, 0, "", "", "", "", {}};
    CHECK(parse_identity(to_json(bare)) == bare);
}

TEST_CASE("what is no identity says why") {
    const auto reason = [](std::string_view json) {
        std::string why;
        REQUIRE_FALSE(parse_identity(json, &why));
        return why;
    };
    CHECK(reason("") == "it is not JSON");
    CHECK(reason("3") == "it is not a JSON object");
    CHECK(reason("{}") == "it does not say glassine_volume");
    CHECK(reason(R"({"glassine_volume":2})") == "a newer version of this program wrote it");
    CHECK(reason(R"({"glassine_volume":1})") == "it has no id");
    CHECK(reason(R"({"glassine_volume":1,"id":"x","kind":"tape"})") == "the kind is not known");
    CHECK(reason(R"({"glassine_volume":1,"id":"x","kind":"drive","label":7})") ==
          "a member is not text");
    CHECK(reason(R"({"glassine_volume":1,"id":"x","kind":"drive","capacity":-1})") ==
          "the capacity is not a number of bytes");
    CHECK(reason(R"({"glassine_volume":1,"id":"x","kind":"drive"})") ==
          "written is no RFC 3339 time");
}

TEST_CASE("a volume is found from any path on it, and wherever it is mounted") {
    Media files;
    const test::TempFolder home;
    home.write("here/bags/one/bagit.txt", "");
    files.media[home.path()] = medium("fs-1", "serial-1");
    const FoundVolume added = add_volume(files, home / "here", drive("SHELF-01"));
    CHECK(added.identity.label == "SHELF-01");
    CHECK(added.identity.model == "Quietspin 4");
    CHECK(added.identity.serial == "serial-1");
    CHECK(added.identity.file_system_id == "fs-1");
    CHECK(added.identity.capacity > 0);
    CHECK(added.identity.in_service);

    const auto found = find_volume(files, home / "here/bags/one");
    REQUIRE(found);
    CHECK(found->identity == added.identity);
    CHECK(found->relative(files.resolve(home / "here/bags/one")) == "bags/one");
    CHECK(found->relative(found->root).empty());
    CHECK(find_volume(files, home / "here/not/there/yet")->identity == added.identity);
    CHECK_FALSE(find_volume(files, home.path()));

    std::filesystem::rename(home / "here", home / "elsewhere");
    const auto moved = find_volume(files, home / "elsewhere/bags");
    REQUIRE(moved);
    CHECK(moved->identity == added.identity);
    CHECK(moved->root.filename() == "elsewhere");
    CHECK(check_witness(*moved).empty());
}

TEST_CASE("a volume is not given a second identity") {
    Media files;
    const test::TempFolder home;
    const FoundVolume added = add_volume(files, home.path(), drive("SHELF-01"));
    CHECK_THROWS_AS(add_volume(files, home.path(), drive("SHELF-02")), Error);
    CHECK(volume_at(files, home.path())->identity == added.identity);
}

TEST_CASE("changing a volume keeps its id and what is not said anew") {
    Media files;
    const test::TempFolder home;
    const FoundVolume added = add_volume(files, home.path(), drive("SHELF-01"));
    VolumeDetails moved;
    moved.place = "bank vault";
    moved.kind = VolumeKind::offsite;
    const FoundVolume changed = change_volume(files, added, moved);
    CHECK(changed.identity.id == added.identity.id);
    CHECK(changed.identity.label == "SHELF-01");
    CHECK(changed.identity.place == "bank vault");
    CHECK(changed.identity.kind == VolumeKind::offsite);
    CHECK(changed.identity.written > added.identity.written);
    CHECK(volume_at(files, home.path())->identity == changed.identity);
}

TEST_CASE("a drive mounted inside a server folder is not the server") {
    Media files;
    const test::TempFolder home;
    home.write("server/drive/bag/bagit.txt", "");
    home.write("server/jobs/bag/bagit.txt", "");
    add_volume(files, home / "server", drive("SERVER"));
    files.devices[home / "server/drive"] = 4711;
    CHECK_FALSE(find_volume(files, home / "server/drive/bag"));
    CHECK(find_volume(files, home / "server/jobs/bag"));

    SECTION("but a subvolume of the same file system is") {
        files.media[home.path()] = medium("one-fs", "");
        CHECK(find_volume(files, home / "server/drive/bag"));
    }
}

TEST_CASE("an identity copied to another file system is noticed by its second witness") {
    Media files;
    const test::TempFolder home;
    std::filesystem::create_directory(home / "a");
    files.media[home / "a"] = medium("fs-1", "serial-1");
    add_volume(files, home / "a", drive("SHELF-01"));

    SECTION("another file system") {
        files.media[home / "a"] = medium("fs-2", "serial-1");
        const auto findings = check_witness(*volume_at(files, home / "a"));
        REQUIRE(findings.size() == 1);
        CHECK(findings[0].kind == FindingKind::volume_cloned);
        CHECK(findings[0].detail.find("fs-2") != std::string::npos);
    }
    SECTION("another drive with the same file system, byte for byte") {
        files.media[home / "a"] = medium("fs-1", "serial-2");
        CHECK(check_witness(*volume_at(files, home / "a")).size() == 1);
    }
    SECTION("a system that tells nothing proves nothing") {
        files.media[home / "a"] = io::Volume{};
        CHECK(check_witness(*volume_at(files, home / "a")).empty());
    }
    SECTION("a new identity settles it") {
        files.media[home / "a"] = medium("fs-2", "serial-1");
        const FoundVolume renewed = renew_identity(files, *volume_at(files, home / "a"));
        CHECK(check_witness(renewed).empty());
        CHECK(volume_at(files, home / "a")->identity == renewed.identity);
    }
}

TEST_CASE("two volumes with one identity are noticed, one volume seen twice is not") {
    Media files;
    const test::TempFolder home;
    std::filesystem::create_directory(home / "a");
    std::filesystem::create_directory(home / "c");
    add_volume(files, home / "a", drive("SHELF-01"));
    add_volume(files, home / "c", drive("SHELF-03"));
    std::filesystem::copy(home / "a", home / "b", std::filesystem::copy_options::recursive);
    std::filesystem::create_directory_symlink(home / "a", home / "link");

    const std::vector<FoundVolume> volumes{
        *find_volume(files, home / "a"), *find_volume(files, home / "link"),
        *find_volume(files, home / "b"), *find_volume(files, home / "c")};
    const auto findings = check_clones(volumes);
    REQUIRE(findings.size() == 1);
    CHECK(findings[0].kind == FindingKind::volume_cloned);
    CHECK(findings[0].path == (home / "b").string());
}

TEST_CASE("an identity file that cannot be read as one is an error, not another volume") {
    Media files;
    const test::TempFolder home;
    home.write(identity_file_name, "{\"glassine_volume\": 1, \"id\"");
    CHECK_THROWS_AS(find_volume(files, home.path()), Error);
}

TEST_CASE("a volume's log only ever grows, and a torn line stays alone") {
    io::FileSystem& files = io::posix_file_system();
    const test::TempFolder home;
    CHECK(read_volume_log(files, home.path()).events.empty());
    const Timestamp now = *parse_rfc3339("2025-01-01T00:00:00Z");
    const std::vector<Event> first{new_event("ingestion", now), new_event("replication", now)};
    append_to_volume_log(files, home.path(), first);
    append_to_volume_log(files, home.path(), {});
    CHECK(read_volume_log(files, home.path()).events == first);

    const auto log = home / event_log_name;
    std::filesystem::resize_file(log, std::filesystem::file_size(log) - 10);
    const std::vector<Event> more{new_event("fixity check", now)};
    append_to_volume_log(files, home.path(), more);
    const EventLines lines = read_volume_log(files, home.path());
    REQUIRE(lines.events.size() == 2);
    CHECK(lines.events[0] == first[0]);
    CHECK(lines.events[1] == more[0]);
    CHECK(lines.problems == std::vector<std::string>{"line 2: not JSON"});
}

TEST_CASE("several writers of one log do not mix their lines") {
    io::FileSystem& files = io::posix_file_system();
    const test::TempFolder home;
    const auto write = [&] {
        for (int i = 0; i < 20; ++i) {
            const std::vector<Event> events(3, new_event("fixity check", Timestamp{0}));
            append_to_volume_log(files, home.path(), events);
        }
    };
    std::thread other(write);
    write();
    other.join();
    const EventLines lines = read_volume_log(files, home.path());
    CHECK(lines.events.size() == 120);
    CHECK(lines.problems.empty());
}

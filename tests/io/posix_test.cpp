#include "glassine/io/file_system.h"
#include "glassine/io/files.h"
#include "support/temp_folder.h"

#include <algorithm>
#include <string>
#include <vector>

#include <catch2/catch.hpp>
#include <sys/stat.h>
#include <unistd.h>

using namespace glassine;
using io::FileType;

namespace {

io::FileSystem& files() {
    return io::posix_file_system();
}

/// The cause of the Error that the call throws.
template <typename Call>
Cause cause_of(Call call) {
    try {
        call();
    } catch (const Error& error) {
        INFO(error.what());
        CHECK_FALSE(error.why().empty());
        return error.cause();
    }
    FAIL("no error was thrown");
    return Cause::other;
}

std::string read_at(io::InputFile& file, std::uint64_t offset, std::size_t size) {
    std::string out(size, '\0');
    out.resize(file.read(offset, std::as_writable_bytes(std::span(out))));
    return out;
}

}  // namespace

TEST_CASE("what is created can be read back, and is never replaced") {
    const test::TempFolder folder;
    const io::Path path = folder / "a.txt";
    io::write_new_file(files(), path, "first");
    CHECK(io::read_small_file(files(), path) == "first");
    CHECK(cause_of([&] { files().create(path); }) == Cause::exists);
    io::write_new_file(files(), folder / "b.txt", "second");
    CHECK(cause_of([&] { files().rename(folder / "b.txt", path); }) == Cause::exists);
    CHECK(test::content_of(path) == "first");
    files().replace(folder / "b.txt", path);
    CHECK(test::content_of(path) == "second");
    CHECK_FALSE(files().find(folder / "b.txt"));
}

TEST_CASE("unaligned reads past the cache give the same bytes as plain reads") {
    const test::TempFolder folder;
    for (const std::size_t size : {0u, 1u, 4095u, 4096u, 4097u, 100'000u}) {
        const std::string content = test::noise(size, 7);
        const io::Path path = folder.write("f" + std::to_string(size), content);
        files().sync_file(path);
        const auto direct = files().open(path, io::Cache::bypass);
        CHECK(read_at(*direct, 0, 200'000) == content);
        CHECK(read_at(*direct, size, 10).empty());
        for (const std::size_t offset : {1u, 4095u, 4096u, 5000u})
            if (offset < size)
                CHECK(read_at(*direct, offset, 5000) == content.substr(offset, 5000));
    }
}

TEST_CASE("only ordinary files are opened: a pipe does not hang, a link is not followed") {
    const test::TempFolder folder;
    REQUIRE(::mkfifo((folder / "pipe").c_str(), 0600) == 0);
    folder.write("file", "x");
    std::filesystem::create_symlink("file", folder / "link");
    CHECK(cause_of([&] { files().open(folder / "pipe"); }) == Cause::not_supported);
    CHECK(cause_of([&] { files().open(folder / "link"); }) == Cause::not_supported);
    CHECK(cause_of([&] { files().open(folder.path()); }) == Cause::not_supported);
    CHECK(cause_of([&] { files().open(folder / "nothing"); }) == Cause::not_found);
    CHECK(files().info(folder / "link").type == FileType::symlink);
    CHECK(files().read_link(folder / "link") == "file");
    CHECK(files().info(folder / "pipe").type == FileType::fifo);
}

TEST_CASE("file times are kept to the nanosecond, before 1970 too") {
    const test::TempFolder folder;
    const io::Path path = folder.write("f", "x");
    for (const std::int64_t moment : {1'757'167'402'123'456'789, 0L, -1'500'000'001L}) {
        files().set_modified(path, {moment});
        CHECK(files().info(path).modified.nanoseconds == moment);
    }
}

TEST_CASE("a walk reports links and special files without following them") {
    const test::TempFolder folder;
    folder.write("b/two.txt", "2");
    folder.write("a/one.txt", "1");
    std::filesystem::create_symlink("/", folder / "b/root");
    std::vector<std::string> seen;
    io::walk(
        files(), folder.path(), [&](const io::WalkEntry& e) { seen.push_back(e.path); },
        [](const std::string&, const Error&) { FAIL("no error expected"); });
    CHECK(seen == std::vector<std::string>{"a", "a/one.txt", "b", "b/root", "b/two.txt"});
}

TEST_CASE("removing a tree removes links, not what they point to") {
    const test::TempFolder folder;
    folder.write("kept/f", "x");
    folder.write("gone/deep/f", "x");
    std::filesystem::create_symlink(folder / "kept", folder / "gone/link");
    io::remove_tree(files(), folder / "gone");
    CHECK_FALSE(files().find(folder / "gone"));
    CHECK(files().find(folder / "kept/f"));
}

TEST_CASE("a file is replaced durably, leaving nothing beside it") {
    const test::TempFolder folder;
    io::write_file_durably(files(), folder / "f", "one");
    folder.write("f.glassine-new", "left by a crash");
    io::write_file_durably(files(), folder / "f", "two");
    CHECK(test::content_of(folder / "f") == "two");
    CHECK(files().list(folder.path()).size() == 1);
}

TEST_CASE("a lock is held by one and gone with its holder") {
    const test::TempFolder folder;
    auto first = files().try_lock(folder / "lock");
    REQUIRE(first);
    CHECK_FALSE(files().try_lock(folder / "lock"));
    first.reset();
    CHECK(files().try_lock(folder / "lock"));
}

TEST_CASE("the volume of a path has a mount point, a file system and room") {
    const test::TempFolder folder;
    const io::Volume volume = files().volume(folder.path());
    CHECK(files().info(volume.mount_point).type == FileType::directory);
    CHECK_FALSE(volume.file_system.empty());
    CHECK(files().space(folder.path()).total_bytes > 0);
    CHECK(cause_of([&] { files().volume(folder / "nothing"); }) == Cause::not_found);
}

TEST_CASE("a small file that is not small is refused") {
    const test::TempFolder folder;
    folder.write("f", std::string(2000, 'x'));
    CHECK(cause_of([&] { io::read_small_file(files(), folder / "f", 1999); }) == Cause::malformed);
    CHECK(io::read_small_file(files(), folder / "f", 2000).size() == 2000);
}

#include "support/fault_file_system.h"
#include "support/sealing.h"

#include <atomic>

using namespace glassine;
using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

void check_nothing_sealed(const Sealing& sealing, const report::CloseoutResult& result) {
    CHECK(result.seal.empty());
    CHECK(result.rejected_raws.empty());
    for (const report::Copy& copy : result.copies)
        CHECK_FALSE(copy.verified);
    for (const int number : {1, 2}) {
        INFO(sealing.drive(number));
        CHECK(fs::is_empty(sealing.drive(number)));
    }
}

/// Does something once, when reading of `name` has begun.
void once_while_reading(FaultFileSystem& files, const std::string& name,
                        std::function<void()> action) {
    auto done = std::make_shared<std::atomic<bool>>(false);
    files.before_read(name, [done, action = std::move(action)](std::uint64_t) {
        if (!done->exchange(true)) action();
    });
}

}  // namespace

TEST_CASE("a source with unreadable sectors is not sealed, and the finding names the bytes") {
    Sealing sealing({.film_bytes = 1'000'000});
    FaultFileSystem files(io::posix_file_system());
    files.damage("job/originals/GLS_FILM.mov", 20);
    files.damage("job/originals/GLS_FILM.mov", 21);
    files.damage("job/originals/GLS_FILM.mov", 100);
    const auto result = sealing.closeout(files);
    CHECK(result.ending == report::Ending::failed);
    const Finding* f = find(result.findings, FindingKind::unreadable, "originals/GLS_FILM.mov");
    REQUIRE(f != nullptr);
    CHECK(f->offset == 20 * 4096);
    CHECK(f->length == 2 * 4096);
    CHECK(f->detail.find("another card or drive") != std::string::npos);
    check_nothing_sealed(sealing, result);
    CHECK(tree_fingerprint(sealing.job()) == sealing.fingerprint());
}

TEST_CASE("an unreadable source cannot be accepted") {
    Sealing sealing;
    FaultFileSystem files(io::posix_file_system());
    files.damage("job/web/GLS_0002.jpg", 0);
    auto request = sealing.request();
    for (const KindInfo& kind : finding_kinds())
        request.accept.insert(kind.kind);
    const auto result = sealing.closeout(files, request);
    CHECK(result.ending == report::Ending::failed);
    CHECK(find(result.findings, FindingKind::unreadable, "web/GLS_0002.jpg") != nullptr);
    check_nothing_sealed(sealing, result);
}

TEST_CASE("all sources that cannot be read are told, not only the first") {
    Sealing sealing;
    FaultFileSystem files(io::posix_file_system());
    files.damage("job/web/GLS_0001.jpg", 0);
    files.damage("job/originals/GLS_0003.DNG", 1);
    const auto result = sealing.closeout(files);
    CHECK(find(result.findings, FindingKind::unreadable, "web/GLS_0001.jpg") != nullptr);
    CHECK(find(result.findings, FindingKind::unreadable, "originals/GLS_0003.DNG") != nullptr);
}

TEST_CASE("a source that grows while it is read stops the close-out") {
    Sealing sealing;
    FaultFileSystem files(io::posix_file_system());
    const fs::path file = sealing.job() / "print/GLS_0002.jpg";
    once_while_reading(files, "job/print/GLS_0002.jpg",
                       [&] { write_file(file, content_of(file) + "more"); });
    const auto result = sealing.closeout(files);
    CHECK(result.ending == report::Ending::attention);
    CHECK(find(result.findings, FindingKind::changed_while_reading, "print/GLS_0002.jpg") !=
          nullptr);
    check_nothing_sealed(sealing, result);
}

TEST_CASE("a source that is touched while it is read stops the close-out") {
    Sealing sealing;
    FaultFileSystem files(io::posix_file_system());
    const fs::path file = sealing.job() / "print/GLS_0002.jpg";
    once_while_reading(files, "job/print/GLS_0002.jpg", [&] {
        fs::last_write_time(file, fs::last_write_time(file) + std::chrono::seconds(3));
    });
    const auto result = sealing.closeout(files);
    CHECK(result.ending == report::Ending::attention);
    CHECK(find(result.findings, FindingKind::changed_while_reading, "print/GLS_0002.jpg") !=
          nullptr);
    check_nothing_sealed(sealing, result);
}

TEST_CASE("a source that vanishes before its turn stops the close-out") {
    Sealing sealing;
    FaultFileSystem files(io::posix_file_system());
    files.before_open("job/web/GLS_0003.jpg",
                      [&] { fs::remove(sealing.job() / "web/GLS_0003.jpg"); });
    const auto result = sealing.closeout(files);
    CHECK(result.ending == report::Ending::attention);
    const Finding* f =
        find(result.findings, FindingKind::changed_while_reading, "web/GLS_0003.jpg");
    REQUIRE(f != nullptr);
    CHECK(f->detail.find("vanished") != std::string::npos);
    check_nothing_sealed(sealing, result);
}

TEST_CASE("a copy that reads back differently fails, and the other is finished") {
    Sealing sealing;
    FaultFileSystem files(io::posix_file_system());
    const std::string staged = std::string(".") + Sealing::name + ".glassine-staging/bag/";
    const fs::path file = sealing.drive(2) / staged / "data/print/GLS_0001.jpg";
    // The drive "remembers" something else than it was given.
    once_while_reading(files, file.string(), [&] {
        std::string content = content_of(file);
        content[content.size() / 2] ^= 1;
        write_file(file, content);
    });
    const auto result = sealing.closeout(files);
    CHECK(result.ending == report::Ending::failed);
    CHECK(result.copies[0].verified);
    CHECK_FALSE(result.copies[1].verified);
    CHECK(result.copies[1].failure.find("data/print/GLS_0001.jpg") != std::string::npos);
    CHECK(fs::is_empty(sealing.drive(2)));
    CHECK(sealing.audit(sealing.drive(1)).ending == report::Ending::good);
}

TEST_CASE("a source that gives other bytes than those that were copied is an unstable source") {
    Sealing sealing;
    FaultFileSystem files(io::posix_file_system());
    const std::string staged = std::string(".") + Sealing::name + ".glassine-staging/bag/";
    const fs::path copy = sealing.drive(1) / staged / "data/print/GLS_0001.jpg";
    const fs::path source = sealing.job() / "print/GLS_0001.jpg";
    const auto change = [](const fs::path& file) {
        std::string content = content_of(file);
        content[content.size() / 2] ^= 1;
        write_file(file, content);
    };
    once_while_reading(files, copy.string(), [&] {
        change(copy);
        change(source);
    });
    const auto result = sealing.closeout(files);
    INFO(listed(result.findings));
    CHECK(result.ending == report::Ending::failed);
    REQUIRE(find(result.findings, FindingKind::unstable_source) != nullptr);
    CHECK(find(result.findings, FindingKind::unstable_source)->path == "print/GLS_0001.jpg");
    CHECK_FALSE(result.copies[0].verified);
}

TEST_CASE("a copy with a sector that cannot be read back fails") {
    Sealing sealing({.film_bytes = 400'000});
    FaultFileSystem files(io::posix_file_system());
    files.damage("glassine-staging/bag/data/originals/GLS_FILM.mov", 3);
    const auto result = sealing.closeout(files);
    CHECK(result.ending == report::Ending::failed);
    for (const report::Copy& copy : result.copies)
        CHECK(copy.failure.find("data/originals/GLS_FILM.mov") != std::string::npos);
    check_nothing_sealed(sealing, result);
}

TEST_CASE("too little space is an error before anything is written") {
    Sealing sealing;
    FaultFileSystem files(io::posix_file_system());
    files.set_free_space(1'000'000);
    try {
        sealing.closeout(files);
        FAIL("there was no error");
    } catch (const Error& error) {
        CHECK(error.cause() == Cause::no_space);
        CHECK(error.why().find("1.0 MB") != std::string::npos);
    }
    CHECK(fs::is_empty(sealing.drive(1)));
    CHECK(fs::is_empty(sealing.drive(2)));
}

TEST_CASE("a stop in the middle leaves nothing behind") {
    Sealing sealing({.film_bytes = 3'000'000});
    for (const char* moment :
         {"job/originals/GLS_FILM.mov", "glassine-staging/bag/data/originals/GLS_FILM.mov",
          "glassine-staging/bag/manifest-sha512.txt"}) {
        INFO(moment);
        sealing.stop = {};
        FaultFileSystem files(io::posix_file_system());
        once_while_reading(files, moment, [&] { sealing.stop.request_stop(); });
        const auto result = sealing.closeout(files);
        CHECK(result.ending == report::Ending::interrupted);
        sealing.check_nothing_broken();
        for (int i = 0; i < 2; ++i)
            CHECK(fs::is_empty(sealing.drive(i + 1)) == !result.copies[i].verified);
        sealing.start_anew();
    }
    sealing.stop = {};
    CHECK(sealing.closeout().ending == report::Ending::good);
}

TEST_CASE("each source byte is read once, however many the copies") {
    Sealing sealing({.film_bytes = 2'000'000});
    FaultFileSystem files(io::posix_file_system());
    std::atomic<int> opened{0};
    files.before_read("job/originals/GLS_FILM.mov", [&](std::uint64_t offset) {
        if (offset == 0) ++opened;
    });
    REQUIRE(sealing.closeout(files).ending == report::Ending::good);
    CHECK(opened == 1);
}

TEST_CASE("leftovers of an interrupted run are cleared, what others left is not") {
    Sealing sealing;
    const fs::path staging =
        sealing.drive(1) / (std::string(".") + Sealing::name + ".glassine-staging");
    fs::create_directories(staging / "bag/data");
    write_file(staging / "bag/data/half.jpg", "half a picture");
    write_file(staging / "lock", "");
    CHECK(sealing.closeout().ending == report::Ending::good);
    CHECK_FALSE(fs::exists(staging));
    sealing.start_anew();
    fs::create_directories(staging);
    write_file(staging / "somebody's.txt", "not ours");
    const auto result = sealing.closeout();
    CHECK(result.ending == report::Ending::failed);
    CHECK(result.copies[1].verified);
    CHECK(content_of(staging / "somebody's.txt") == "not ours");
}

TEST_CASE("two runs for one job do not meet in one place") {
    Sealing sealing;
    const fs::path staging =
        sealing.drive(1) / (std::string(".") + Sealing::name + ".glassine-staging");
    fs::create_directories(staging);
    const auto held = io::posix_file_system().try_lock(staging / "lock");
    REQUIRE(held);
    const auto result = sealing.closeout();
    CHECK(result.ending == report::Ending::failed);
    CHECK(result.copies[0].failure.find("another run") != std::string::npos);
    CHECK(result.copies[1].verified);
    CHECK(fs::exists(staging));
}

#include "glassine/shelf/register.h"
#include "shelf/schema.h"
#include "shelf/shelf_values.h"
#include "support/temp_folder.h"

#include <thread>

#include <catch2/catch.hpp>
#include <sys/wait.h>
#include <unistd.h>

using namespace glassine;
using namespace glassine::shelf;
using namespace glassine::test;

namespace {

io::FileSystem& files() {
    return io::posix_file_system();
}

RegisterState state_of(const io::Path& path, Register::Depth depth = Register::Depth::quick) {
    return Register::examine(files(), path, depth).state;
}

void fill(Register& reg, int bags) {
    Register::Batch batch(reg);
    for (int i = 0; i < bags; ++i) {
        const BagRecord record = test::bag(fmt::format("bag {}", i), "a", 20);
        reg.record_bag(record);
        reg.record_event(about(event_type::fixity_check, "2025-01-01", record));
    }
    batch.commit();
}

}  // namespace

TEST_CASE("a register is never made where something stands, nor opened where nothing does") {
    const test::TempFolder home;
    const io::Path path = home / "register.sqlite";
    CHECK(state_of(path) == RegisterState::missing);
    CHECK_THROWS_AS(Register(files(), path), Error);
    CHECK_FALSE(files().find(path));

    Register::create(files(), path);
    CHECK(state_of(path) == RegisterState::ready);
    CHECK_THROWS_AS(Register::create(files(), path), Error);
    CHECK(files().list(home.path()).size() == 1);
    CHECK(Register(files(), path).facts() == Facts{});
    CHECK(state_of(path, Register::Depth::full) == RegisterState::ready);
}

TEST_CASE("what is no register is named and left as it is") {
    const test::TempFolder home;
    const io::Path path = home / "register.sqlite";
    const auto refuses = [&](RegisterState expected) {
        const std::string before = test::tree_fingerprint(home.path());
        CHECK(state_of(path) == expected);
        CHECK_FALSE(Register::examine(files(), path).why.empty());
        CHECK_THROWS_AS(Register(files(), path), Error);
        CHECK(test::tree_fingerprint(home.path()) == before);
    };
    SECTION("an empty file") {
        test::write_file(path, "");
        refuses(RegisterState::damaged);
    }
    SECTION("a text") {
        test::write_file(path, std::string(5000, 'x'));
        refuses(RegisterState::damaged);
    }
    SECTION("a folder") {
        std::filesystem::create_directory(path);
        refuses(RegisterState::foreign);
    }
    SECTION("another program's database") {
        sql::Database(path.string(), sql::Database::Mode::create).run("CREATE TABLE mine(x)");
        refuses(RegisterState::foreign);
    }
    SECTION("a register of the future") {
        Register::create(files(), path);
        sql::Database(path.string(), sql::Database::Mode::read_write)
            .run("PRAGMA user_version = 99");
        refuses(RegisterState::newer);
    }
    SECTION("a register without one of its tables") {
        Register::create(files(), path);
        sql::Database(path.string(), sql::Database::Mode::read_write).run("DROP TABLE seals");
        refuses(RegisterState::damaged);
    }
}

TEST_CASE("a register cut short or overwritten is found out, and kept aside") {
    const test::TempFolder home;
    const io::Path path = home / "register.sqlite";
    Register::create(files(), path);
    {
        Register reg(files(), path);
        fill(reg, 40);
    }
    const std::string whole = test::content_of(path);
    REQUIRE(whole.size() > 40'000);

    SECTION("cut") {
        test::write_file(path, whole.substr(0, whole.size() / 2));
        CHECK(state_of(path, Register::Depth::full) == RegisterState::damaged);
    }
    SECTION("overwritten in the middle") {
        std::string broken = whole;
        for (std::size_t i = 8192; i < broken.size(); i += 4096) {
            broken.replace(i, 512, test::noise(512, 3));
        }
        test::write_file(path, broken);
        CHECK(state_of(path, Register::Depth::full) == RegisterState::damaged);
    }
    SECTION("overwritten at the start") {
        std::string broken = whole;
        broken.replace(0, 16, std::string(16, '\0'));
        test::write_file(path, broken);
        CHECK(state_of(path) == RegisterState::damaged);
    }
    const std::string damaged = test::content_of(path);
    const io::Path aside = Register::set_aside(files(), path);
    CHECK(state_of(path) == RegisterState::missing);
    CHECK(test::content_of(aside) == damaged);
    CHECK(aside.filename().string().starts_with("register.sqlite.damaged-"));

    // And once more within the same second: nothing is ever replaced.
    test::write_file(path, "damaged as well");
    CHECK(Register::set_aside(files(), path) != aside);
    CHECK(test::content_of(aside) == damaged);
}

TEST_CASE("damage met while working is an error that names the register") {
    const test::TempFolder home;
    const io::Path path = home / "register.sqlite";
    Register::create(files(), path);
    {
        Register reg(files(), path);
        fill(reg, 40);
    }
    std::string broken = test::content_of(path);
    for (std::size_t i = 4096; i < broken.size(); i += 4096) {
        broken.replace(i, 1024, test::noise(1024, 3));
    }
    test::write_file(path, broken);
    try {
        Register reg(files(), path);
        fill(reg, 60);
        FAIL("nothing was noticed");
    } catch (const Error& error) {
        CHECK(error.cause() == Cause::malformed);
        CHECK(error.path() == path.string());
        CHECK(error.next().find("shelf scan") != std::string::npos);
    }
}

TEST_CASE("an older register is brought up to date with all it holds") {
    const test::TempFolder home;
    const io::Path path = home / "register.sqlite";
    for (int version = 1; version < current_schema(); ++version) {
        const io::Path old = home / fmt::format("version-{}", version);
        {
            sql::Database database(old.string(), sql::Database::Mode::create);
            migrate_schema(database, version);
            // As that version wrote it.
            database.run(R"(
                INSERT INTO volumes(uuid, label, kind, root) VALUES ('a', 'SHELF-01', 'drive', '/x');
                INSERT INTO bags(name, seal, description, described, payload_files, first_frame,
                        last_frame, first_file, last_file)
                    VALUES ('gala', 'f00d', 'a gala', 1, 1, 1, 1, 1, 1);
                INSERT INTO clients VALUES (1, 0, 'Okafor');
                INSERT INTO copies(bag_id, volume_id, path, present) VALUES (1, 1, 'gala', 1);
                INSERT INTO frames VALUES (1, 1, 'KLA_0001');
                INSERT INTO forms VALUES (1, 'data/', '.NEF', 0);
                INSERT INTO digest_sizes VALUES (16);
                INSERT INTO files VALUES (1, 1, 1, x'00112233445566778899aabbccddeeff');)");
        }
        CHECK(state_of(old) == RegisterState::ready);
        Register reg(files(), old);
        const Facts facts = reg.facts();
        REQUIRE(facts.bags.size() == 1);
        CHECK(facts.bags[0].clients == std::vector<std::string>{"Okafor"});
        CHECK(facts.volumes[0].identity.label == "SHELF-01");
        CHECK(reg.payload({"gala", "f00d"})[0].path == "data/KLA_0001.NEF");
        CHECK(reg.algorithms() == std::vector{digest::Algorithm::md5});
        reg.add_audit_progress({"gala", "f00d"}, "a", at("2025-01-01"),
                               std::vector<std::string>{"data/KLA_0001.NEF"});
        CHECK(reg.audit_progress({"gala", "f00d"}, "a").files.size() == 1);
        sql::Database check(old.string(), sql::Database::Mode::read_only);
        CHECK(check.pragma("user_version") == current_schema());
    }
}

TEST_CASE("a migration that fails leaves the old version") {
    const test::TempFolder home;
    const io::Path path = home / "register.sqlite";
    sql::Database database(path.string(), sql::Database::Mode::create);
    migrate_schema(database, 1);
    // In the way of the next version.
    database.run("CREATE TABLE audited_files(x)");
    CHECK_THROWS_AS(migrate_schema(database), Error);
    CHECK(database.pragma("user_version") == 1);
    CHECK_FALSE(database.in_transaction());
    CHECK(missing_table(database) == "audit_progress");
}

TEST_CASE("two programs write to one register at once") {
    const test::TempFolder home;
    const io::Path path = home / "register.sqlite";
    Register::create(files(), path);
    constexpr int each = 40;
    const auto write = [&](const char* volume) {
        Register reg(files(), path);
        for (int i = 0; i < each; ++i) {
            const BagRecord record = test::bag(fmt::format("bag {}", i), volume, 5);
            reg.record_bag(record);
            reg.record_event(about(event_type::fixity_check, "2025-01-01", record));
        }
    };
    const pid_t child = ::fork();
    REQUIRE(child >= 0);
    if (child == 0) {
        int code = 0;
        try {
            write("from the child");
        } catch (...) {
            code = 1;
        }
        ::_exit(code);
    }
    write("from the parent");
    int status = 0;
    REQUIRE(::waitpid(child, &status, 0) == child);
    CHECK(WIFEXITED(status));
    CHECK(WEXITSTATUS(status) == 0);

    CHECK(state_of(path, Register::Depth::full) == RegisterState::ready);
    Register reg(files(), path);
    const Facts facts = reg.facts();
    CHECK(facts.bags.size() == each);
    for (const BagFacts& bag : facts.bags) {
        CHECK(bag.copies.size() == 2);
        for (const CopyFacts& copy : bag.copies)
            CHECK(copy.state == CopyState::whole);
        CHECK(reg.payload({bag.name, seal(bag.name)}).size() == 11);
    }
}

TEST_CASE("readers see whole records while a writer is at work") {
    const test::TempFolder home;
    const io::Path path = home / "register.sqlite";
    Register::create(files(), path);
    std::thread writer([&] {
        Register reg(files(), path);
        for (int i = 0; i < 60; ++i)
            reg.record_bag(test::bag(fmt::format("bag {}", i), "a", 5));
    });
    Register reg(files(), path);
    std::size_t seen = 0;
    for (int round = 0; round < 2000 && seen < 60; ++round) {
        const Facts facts = reg.facts();
        CHECK(facts.bags.size() >= seen);
        seen = facts.bags.size();
        for (const BagFacts& bag : facts.bags)
            CHECK(bag.copies.size() == 1);
    }
    writer.join();
    CHECK(reg.facts().bags.size() == 60);
}

TEST_CASE("two programs making the same register at once end with one") {
    const test::TempFolder home;
    const io::Path path = home / "register.sqlite";
    int made = 0;
    std::thread other([&] {
        try {
            Register::create(files(), path);
            ++made;
        } catch (const Error&) {
        }
    });
    other.join();
    try {
        Register::create(files(), path);
        ++made;
    } catch (const Error& error) {
        CHECK(error.cause() == Cause::exists);
    }
    CHECK(made == 1);
    CHECK(files().list(home.path()).size() == 1);
}

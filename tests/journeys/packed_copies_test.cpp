#include "glassine/bagit/archive.h"
#include "glassine/journeys/mend.h"
#include "glassine/journeys/migrate.h"
#include "glassine/journeys/restore.h"
#include "glassine/journeys/shelf.h"
#include "glassine/shelf/register.h"
#include "support/flip.h"
#include "support/sealing.h"

#include <algorithm>
#include <filesystem>
#include <string>

using namespace glassine;
using namespace glassine::test;
namespace fs = std::filesystem;

/// Copies that are packed into one file, in the shelf's books as any other.
namespace {

/// Two volumes of the shelf, with a register.
class PackedShelf {
  public:
    PackedShelf() {
        for (const int number : {1, 2}) {
            journeys::ShelfAddRequest add;
            add.volume = sealing_.drive(number);
            add.details.label = "SHELF-0" + std::to_string(number);
            journeys::shelf_add(context(), add);
        }
    }

    void close_out(int drive, std::optional<bagit::ArchiveForm> form, bool keep_folder = false) {
        auto request = sealing_.request({drive});
        request.serialize = form;
        request.keep_folder = keep_folder;
        const auto result = journeys::closeout(context(), request);
        INFO(listed(result.findings));
        REQUIRE(result.ending == report::Ending::good);
    }
    report::AuditResult audit(const fs::path& path) {
        return journeys::audit(context(), {{path}, false, {}});
    }

    std::vector<shelf::CopyFacts> copies(const fs::path& books = {}) {
        shelf::Register all(io::posix_file_system(), books.empty() ? register_file() : books);
        const shelf::Facts facts = all.facts();
        REQUIRE(facts.bags.size() == 1);
        CHECK(facts.bags[0].name == Sealing::name);
        return facts.bags[0].copies;
    }

    journeys::Context context(const fs::path& books = {}) {
        return {io::posix_file_system(),
                monitor_,
                {},
                {},
                "keeper",
                {},
                books.empty() ? register_file() : books};
    }
    fs::path register_file() const { return sealing_.root() / "register.db"; }
    fs::path archive(int number, const char* ending = ".tar") const {
        return sealing_.drive(number) / (Sealing::name + std::string(ending));
    }
    Sealing& sealing() { return sealing_; }

  private:
    Sealing sealing_;
    journeys::SilentMonitor monitor_;
};

/// Changes one byte of a picture inside an archive whose members stand as they are.
void damage_picture(const fs::path& archive, const fs::path& picture) {
    std::string all = content_of(archive);
    const std::size_t at = all.find(content_of(picture));
    REQUIRE(at != std::string::npos);
    all[at + 100] = static_cast<char>(all[at + 100] ^ 1);
    write_file(archive, all);
}

}  // namespace

TEST_CASE("a bag that was packed into one file is a copy like any other") {
    for (const auto form : {bagit::ArchiveForm::tar, bagit::ArchiveForm::zip}) {
        PackedShelf shelf;
        shelf.close_out(1, form);
        shelf.close_out(2, {});
        const auto copies = shelf.copies();
        REQUIRE(copies.size() == 2);
        for (const shelf::CopyFacts& copy : copies)
            CHECK(copy.state == shelf::CopyState::whole);
        CHECK(copies[0].packed != copies[1].packed);
    }
}

TEST_CASE("a folder and an archive of it on one drive fare each for itself") {
    PackedShelf shelf;
    shelf.close_out(1, bagit::ArchiveForm::tar, true);
    REQUIRE(shelf.copies().size() == 2);
    damage_picture(shelf.archive(1), shelf.sealing().job() / "print/GLS_0001.jpg");
    CHECK(shelf.audit(shelf.sealing().drive(1)).ending == report::Ending::attention);
    const auto copies = shelf.copies();
    REQUIRE(copies.size() == 2);
    CHECK_FALSE(copies[0].packed);
    CHECK(copies[0].state == shelf::CopyState::whole);
    CHECK(copies[1].state == shelf::CopyState::damaged);
    CHECK(copies[1].trouble.find("data/print/GLS_0001.jpg") != std::string::npos);
}

TEST_CASE("the register of packed copies is rebuilt from the drives alone") {
    PackedShelf shelf;
    shelf.close_out(1, bagit::ArchiveForm::zip, true);
    shelf.close_out(2, bagit::ArchiveForm::tar);
    damage_picture(shelf.archive(2), shelf.sealing().job() / "web/GLS_0002.jpg");
    shelf.audit(shelf.archive(2));
    const fs::path fresh = shelf.sealing().root() / "fresh.db";
    const auto context = shelf.context(fresh);
    const std::vector<io::Path> drives{shelf.sealing().drive(1), shelf.sealing().drive(2)};
    CHECK(journeys::shelf_scan(context, drives).ending == report::Ending::good);
    CHECK(shelf.copies(fresh) == shelf.copies());
    CHECK(journeys::shelf_scan(context, drives).volumes[0].new_events == 0);
    CHECK(shelf.copies(fresh) == shelf.copies());
    fs::remove(shelf.archive(2));
    journeys::shelf_scan(context, drives);
    const auto left = shelf.copies(fresh);
    CHECK(std::ranges::count(left, shelf::CopyState::missing, &shelf::CopyFacts::state) == 1);
}

TEST_CASE("an archive that is nothing but damage is still the copy that stood there") {
    PackedShelf shelf;
    shelf.close_out(1, bagit::ArchiveForm::tar);
    write_file(shelf.archive(1), std::string(100'000, '\x5a'));
    CHECK(shelf.audit(shelf.archive(1)).ending == report::Ending::attention);
    CHECK(shelf.copies()[0].state == shelf::CopyState::damaged);
}

TEST_CASE("a folder is healed from the picture in an archive") {
    for (const bool by_name : {true, false}) {
        PackedShelf shelf;
        shelf.close_out(1, {});
        shelf.close_out(2, bagit::ArchiveForm::tar);
        const fs::path picture = shelf.sealing().bag(1) / "data/print/GLS_0001.jpg";
        const std::string whole = content_of(picture);
        flip(picture, 50);
        journeys::MendRequest request;
        request.bag = shelf.sealing().bag(1);
        if (by_name) request.from = {shelf.archive(2)};
        // Its own recovery data would do it, too.
        fs::remove_all(shelf.sealing().bag(1) / "recovery");
        const auto result = journeys::mend(shelf.context(), request);
        INFO(listed(result.findings));
        CHECK(content_of(picture) == whole);
        CHECK(shelf.audit(shelf.sealing().bag(1)).ending == report::Ending::good);
    }
}

TEST_CASE("what an archive has damaged is handed out from another copy, and noted") {
    PackedShelf shelf;
    shelf.close_out(1, bagit::ArchiveForm::zip);
    shelf.close_out(2, {});
    damage_picture(shelf.archive(1, ".zip"), shelf.sealing().job() / "print/GLS_0001.jpg");
    journeys::RestoreRequest request;
    request.what = shelf.archive(1, ".zip").string();
    request.to = (shelf.sealing().root() / "out").string();
    const auto result = journeys::restore(shelf.context(), request);
    INFO(listed(result.findings));
    CHECK(content_of(shelf.sealing().root() / "out/print/GLS_0001.jpg") ==
          content_of(shelf.sealing().job() / "print/GLS_0001.jpg"));
    const auto copies = shelf.copies();
    REQUIRE(copies.size() == 2);
    for (const shelf::CopyFacts& copy : copies)
        CHECK(copy.state == (copy.packed ? shelf::CopyState::damaged : shelf::CopyState::whole));
}

TEST_CASE("an archive that was carried is a copy, and the old drive's statement counts it") {
    PackedShelf shelf;
    shelf.close_out(1, bagit::ArchiveForm::tar);
    journeys::MigrateRequest request;
    request.sources = {shelf.sealing().drive(1)};
    request.to = shelf.sealing().drive(2).string();
    const auto result = journeys::migrate(shelf.context(), request);
    REQUIRE(result.bags.size() == 1);
    CHECK(result.bags[0].fate == report::Fate::carried);
    CHECK(result.bags[0].copies == 1);
    bool carried = false;
    for (const shelf::CopyFacts& copy : shelf.copies())
        carried = carried || (copy.packed && copy.path == shelf.archive(2).filename() &&
                              copy.state == shelf::CopyState::whole && copy.proven);
    CHECK(carried);
}

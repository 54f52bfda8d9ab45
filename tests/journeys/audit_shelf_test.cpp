#include "glassine/journeys/shelf.h"
#include "glassine/shelf/register.h"
#include "support/effort.h"
#include "support/fault_file_system.h"
#include "support/flip.h"
#include "support/sealing.h"

#include <algorithm>
#include <chrono>
#include <csignal>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <thread>

#include <sys/wait.h>
#include <unistd.h>

using namespace glassine;
using namespace glassine::test;

namespace {

using namespace std::chrono_literals;

constexpr std::uint64_t film_bytes = 4'000'000;
const std::string late_picture = "data/web/GLS_0001.jpg";

/// A job sealed on a volume of the shelf, and a register.
class Shelved {
  public:
    Shelved() : sealing_(JobSize{.film_bytes = film_bytes}) {
        journeys::ShelfAddRequest add;
        add.volume = sealing_.drive(1);
        add.details.label = "SHELF-01";
        journeys::SilentMonitor monitor;
        journeys::shelf_add(context(io::posix_file_system(), monitor, {}), add);
        const auto request = sealing_.request({1});
        const auto result =
            journeys::closeout(context(io::posix_file_system(), monitor, {}), request);
        INFO(listed(result.findings));
        REQUIRE(result.ending == report::Ending::good);
    }

    report::AuditResult audit(io::FileSystem& files, const std::stop_token& stop = {},
                              std::optional<std::chrono::duration<double>> budget = {}) {
        journeys::SilentMonitor monitor;
        return journeys::audit(context(files, monitor, stop), {{sealing_.drive(1)}, false, budget});
    }

    /// An audit that may read so many bytes.
    report::AuditResult audit_of_bytes(std::uint64_t bytes,
                                       io::FileSystem& files = io::posix_file_system()) {
        journeys::SilentMonitor monitor;
        journeys::AuditRequest request;
        request.paths = {sealing_.drive(1)};
        request.byte_budget = bytes;
        return journeys::audit(context(files, monitor, {}), request);
    }

    /// An audit that is stopped shortly before the film's end, when the late picture is noted.
    report::AuditResult stopped_audit() {
        std::stop_source stop;
        FaultFileSystem files(io::posix_file_system());
        make_picture_late(files);
        files.before_read("GLS_FILM.mov", [&](std::uint64_t offset) {
            if (offset < film_bytes - 200'000) return;
            wait_for_note();
            stop.request_stop();
        });
        return audit(files, stop.get_token());
    }

    /// What is proven is noted every two seconds: with the first file that comes later than that.
    void make_picture_late(FaultFileSystem& files) {
        files.set_rotates(false);  // several readers: the film is read beside it
        files.before_read(late_picture, [](std::uint64_t offset) {
            if (offset == 0) std::this_thread::sleep_for(2200ms);
        });
    }

    /// Waits until the late picture is noted, as long as a very busy machine may take.
    void wait_for_note() {
        for (int i = 0; i < 1500 && !std::ranges::count(noted(), late_picture); ++i)
            std::this_thread::sleep_for(20ms);
    }

    /// The files that an audit which did not come to its end has noted as proven.
    std::vector<std::string> noted() {
        shelf::Register books(io::posix_file_system(), sealing_.root() / "register.db");
        const shelf::Facts facts = books.facts();
        const shelf::BagFacts& bag = facts.bags.at(0);
        const shelf::CopyFacts& copy = bag.copies.at(0);
        return books.audit_progress({bag.name, copy.seal}, copy.volume).files;
    }

    shelf::CopyFacts copy() {
        shelf::Register books(io::posix_file_system(), sealing_.root() / "register.db");
        const shelf::Facts facts = books.facts();
        REQUIRE(facts.bags.size() == 1);
        REQUIRE(facts.bags[0].copies.size() == 1);
        return facts.bags[0].copies[0];
    }

    Sealing& sealing() { return sealing_; }

  private:
    journeys::Context context(io::FileSystem& files, journeys::Monitor& monitor,
                              const std::stop_token& stop) {
        flow::Resources resources;
        resources.block_size = 64u << 10;
        resources.blocks = 24;
        resources.threads = 2;
        return {files, monitor, {}, stop, "keeper", resources, sealing_.root() / "register.db"};
    }

    Sealing sealing_;
};

}  // namespace

TEST_CASE("an audit that is stopped proves nothing, and the next one goes on where it stopped") {
    Shelved shelved;
    const auto sealed = shelved.copy().proven;
    REQUIRE(sealed);
    const auto stopped = shelved.stopped_audit();
    CHECK(stopped.ending == report::Ending::interrupted);
    REQUIRE(stopped.bags.size() == 1);
    CHECK(stopped.bags[0].report.stopped);
    CHECK(shelved.copy().proven == sealed);
    CHECK(shelved.copy().state == shelf::CopyState::whole);

    std::uint64_t film_reads = 0;
    FaultFileSystem files(io::posix_file_system());
    files.before_read("GLS_FILM.mov", [&](std::uint64_t) { ++film_reads; });
    const auto next = shelved.audit(files);
    CHECK(next.ending == report::Ending::good);
    REQUIRE(next.bags.size() == 1);
    CHECK(next.bags[0].report.valid == true);
    CHECK(next.bags[0].proven_before > 0);
    CHECK(film_reads > 0);
    // The proof counts from the day on which it was begun.
    const auto proven = shelved.copy().proven;
    REQUIRE(proven);
    CHECK(*proven > *sealed);
    CHECK(*proven < next.started);
    // What came to its end is not gone on with.
    CHECK(shelved.audit(io::posix_file_system()).bags.at(0).proven_before == 0);
    CHECK(*shelved.copy().proven > *proven);
}

TEST_CASE("an audit whose time is up stops, says what is left, and goes on the next time") {
    Shelved shelved;
    // A very busy machine needs longer before anything is proven.
    for (std::chrono::duration<double> budget = 0.8s; shelved.noted().empty() && budget < 60s;
         budget *= 4) {
        FaultFileSystem files(io::posix_file_system());
        // 61 blocks: with this alone it would take six times as long.
        files.before_read("GLS_FILM.mov",
                          [&](std::uint64_t) { std::this_thread::sleep_for(budget / 10); });
        const auto first = shelved.audit(files, {}, budget);
        CHECK(first.ending == report::Ending::good);
        CHECK(first.left.size() == 1);
        if (first.bags.empty()) continue;  // it was not even begun
        CHECK(first.bags[0].report.stopped);
        CHECK_FALSE(first.bags[0].report.valid);
    }
    const auto next = shelved.audit(io::posix_file_system(), {}, std::chrono::duration<double>(60));
    CHECK(next.left.empty());
    REQUIRE(next.bags.size() == 1);
    CHECK(next.bags[0].report.valid == true);
    CHECK(next.bags[0].proven_before > 0);
}

namespace {

/// Counts how often each file is read from its beginning.
class FirstReads : public io::ForwardingFileSystem {
  public:
    explicit FirstReads(io::FileSystem& target) : ForwardingFileSystem(target) {}
    std::unique_ptr<io::InputFile> open(const io::Path& path, io::Cache cache) override {
        {
            const std::lock_guard lock(mutex_);
            if (path.string().find("/data/") != std::string::npos) ++reads[path.string()];
        }
        return target().open(path, cache);
    }
    std::map<std::string, int> reads;

  private:
    std::mutex mutex_;
};

}  // namespace

TEST_CASE("audits with a budget in bytes together prove everything, each file once") {
    Shelved shelved;
    FirstReads files(io::posix_file_system());
    const auto sealed = shelved.copy().proven;
    std::size_t audits = 0;
    for (bool left = true; left; ++audits) {
        REQUIRE(audits < 100);
        const auto result = shelved.audit_of_bytes(1'000'000, files);
        CHECK(result.ending == report::Ending::good);
        left = !result.left.empty();
        if (left) CHECK(shelved.copy().proven == sealed);
    }
    // The film alone is four budgets large, and is read whole all the same.
    CHECK(audits > 2);
    CHECK(*shelved.copy().proven > *sealed);
    CHECK(files.reads.size() > 5);
    for (const auto& [path, times] : files.reads) {
        INFO(path);
        CHECK(times == 1);
    }
}

TEST_CASE("what the budget leaves unread is looked at all the same") {
    Shelved shelved;
    const std::filesystem::path bag = shelved.sealing().bag(1);
    std::filesystem::remove(bag / "data/web/GLS_0003.jpg");
    const auto result = shelved.audit_of_bytes(1);
    CHECK(result.ending == report::Ending::attention);
    REQUIRE(result.bags.size() == 1);
    CHECK(find(result.bags[0].report.findings, FindingKind::payload_missing,
               "data/web/GLS_0003.jpg") != nullptr);
}

TEST_CASE("damage that an unfinished audit has met is on record, and the audit goes on") {
    Shelved shelved;
    const std::filesystem::path bag = shelved.sealing().bag(1);
    std::string first;
    for (const auto& entry : std::filesystem::recursive_directory_iterator(bag / "data"))
        if (entry.is_regular_file() && (first.empty() || entry.path().string() < first))
            first = entry.path().string();
    flip(first, 100);
    const auto result = shelved.audit_of_bytes(3'000'000);
    CHECK(result.left.size() == 1);
    CHECK(result.ending == report::Ending::attention);
    CHECK(shelved.copy().state == shelf::CopyState::damaged);
    const auto next = shelved.audit(io::posix_file_system());
    CHECK(next.bags.at(0).proven_before > 0);
    CHECK(next.bags[0].report.valid == false);
}

TEST_CASE("an archive that holds no bag costs nothing of a budget in bytes") {
    Shelved shelved;
    // A ZIP file without members (APPNOTE 4.3.16: the end of central directory record alone).
    std::string empty("PK\x05\x06", 4);
    empty.resize(22, '\0');
    write_file(shelved.sealing().drive(1) / "gallery.zip", empty);
    const auto result = shelved.audit_of_bytes(100'000'000);
    CHECK(result.ending == report::Ending::good);
    CHECK(result.left.empty());
    REQUIRE(result.bags.size() == 1);
    CHECK(result.bags[0].report.valid == true);
    CHECK(find(result.findings, FindingKind::archive_malformed) != nullptr);
    CHECK(shelved.audit_of_bytes(1).left.size() == 1);
}

TEST_CASE("a bag on no shelf is not gone on with by the next audit, and that is told") {
    Sealing sealing(JobSize{.film_bytes = film_bytes});
    REQUIRE(sealing.closeout(io::posix_file_system(), {1}).ending == report::Ending::good);
    journeys::SilentMonitor monitor;
    const journeys::Context context{io::posix_file_system(), monitor, {}, {}, "keeper", {}, {}};
    journeys::AuditRequest request;
    request.paths = {sealing.drive(1)};
    request.byte_budget = 1'000'000;
    const auto first = journeys::audit(context, request);
    CHECK(first.ending == report::Ending::good);
    CHECK(first.left.size() == 1);
    CHECK(find(first.findings, FindingKind::not_recorded) != nullptr);
    request.byte_budget = 100'000'000;
    CHECK(journeys::audit(context, request).bags.at(0).report.valid == true);
}

TEST_CASE("an audit that was killed goes on with what it had noted") {
    if (sanitized) {
        WARN("SKIPPED: a sanitizer's own threads do not come through a fork");
        return;
    }
    Shelved shelved;
    const auto proven = shelved.copy().proven;
    // In a process of its own, for kill -9 leaves nobody to tidy up.
    const pid_t child = ::fork();
    REQUIRE(child >= 0);
    if (child == 0) {
        FaultFileSystem files(io::posix_file_system());
        shelved.make_picture_late(files);
        files.before_read("GLS_FILM.mov", [&](std::uint64_t) {
            shelved.wait_for_note();
            ::kill(::getpid(), SIGKILL);
        });
        shelved.audit(files);
        ::_exit(0);
    }
    int status = 0;
    REQUIRE(::waitpid(child, &status, 0) == child);
    REQUIRE(WIFSIGNALED(status));
    CHECK(shelved.copy().proven == proven);
    CHECK(shelved.copy().state == shelf::CopyState::whole);
    const auto next = shelved.audit(io::posix_file_system());
    CHECK(next.ending == report::Ending::good);
    REQUIRE(next.bags.size() == 1);
    CHECK(next.bags[0].report.valid == true);
    CHECK(next.bags[0].proven_before > 0);
}

TEST_CASE("what was written to since it was proven is read again") {
    Shelved shelved;
    REQUIRE(shelved.stopped_audit().bags.at(0).report.stopped);
    const std::filesystem::path picture = shelved.sealing().bag(1) / "data/web/GLS_0001.jpg";
    std::string content = content_of(picture);
    content[100] = static_cast<char>(content[100] ^ 1);
    write_file(picture, content);
    const auto next = shelved.audit(io::posix_file_system());
    CHECK(next.ending == report::Ending::attention);
    CHECK(find(next.bags.at(0).report.findings, FindingKind::payload_altered,
               "data/web/GLS_0001.jpg") != nullptr);
    CHECK(shelved.copy().state == shelf::CopyState::damaged);
}

TEST_CASE("a drive that is pulled out during its audit damages nothing") {
    Shelved shelved;
    const auto before = shelved.copy();
    FaultFileSystem counted(io::posix_file_system());
    shelved.audit(counted);
    const auto proven = shelved.copy().proven;
    CHECK(proven > before.proven);
    const std::uint64_t all = counted.operations();
    for (const std::uint64_t percent : {30, 50, 70, 90}) {
        INFO("from operation " << all * percent / 100 << " of " << all);
        FaultFileSystem files(io::posix_file_system());
        files.fail_below(shelved.sealing().drive(1).string(), all * percent / 100);
        try {
            const auto result = shelved.audit(files);
            CHECK(result.ending != report::Ending::attention);
        } catch (const Error&) {
            // Pulled out before the first bag was found.
        }
        CHECK(shelved.copy().state == shelf::CopyState::whole);
        CHECK_FALSE(shelved.copy().last_error);
    }
    CHECK(shelved.audit(io::posix_file_system()).ending == report::Ending::good);
}

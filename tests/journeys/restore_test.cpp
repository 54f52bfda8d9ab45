#include "glassine/journeys/restore.h"

#include "support/fault_file_system.h"
#include "support/flip.h"
#include "support/sealing.h"

#include <algorithm>
#include <fstream>

using namespace glassine;
using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

/// Two sealed copies of a job of three kept frames, and a place to hand out into.
struct Studio {
    explicit Studio(unsigned recovery = 0) {
        auto request = sealing.request();
        request.recovery_percent = recovery;
        REQUIRE(sealing.closeout(io::posix_file_system(), request).ending == report::Ending::good);
        whole = tree_fingerprint(sealing.bag(1));
    }

    report::RestoreResult restore(io::FileSystem& files, journeys::RestoreRequest request) const {
        flow::Resources resources;
        resources.block_size = 64u << 10;
        resources.blocks = 24;
        resources.threads = 2;
        journeys::SilentMonitor monitor;
        const journeys::Context context{files, monitor, {}, stop.get_token(), "keeper", resources};
        return journeys::restore(context, request);
    }
    report::RestoreResult restore(const journeys::RestoreRequest& request) const {
        return restore(io::posix_file_system(), request);
    }
    journeys::RestoreRequest request(const fs::path& to) const {
        journeys::RestoreRequest request;
        request.what = sealing.bag(1).string();
        request.to = to.string();
        return request;
    }
    fs::path out() const { return sealing.root() / "out"; }
    fs::path original(const std::string& name) const { return sealing.bag(2) / "data" / name; }

    Sealing sealing{{.kept = 3}};
    std::stop_source stop;
    std::string whole;
};

std::vector<std::string> files_below(const fs::path& folder) {
    std::vector<std::string> names;
    if (!fs::exists(folder)) return names;
    for (const auto& entry : fs::recursive_directory_iterator(folder))
        if (entry.is_regular_file()) names.push_back(fs::relative(entry.path(), folder).string());
    std::ranges::sort(names);
    return names;
}

const std::vector<std::string> prints_and_web{"print/GLS_0001.jpg", "print/GLS_0002.jpg",
                                              "print/GLS_0003.jpg", "web/GLS_0001.jpg",
                                              "web/GLS_0002.jpg",   "web/GLS_0003.jpg"};

}  // namespace

TEST_CASE("restore hands out prints and web pictures, whole and with their times") {
    const Studio studio;
    const auto result = studio.restore(studio.request(studio.out()));
    INFO(listed(result.findings));
    CHECK(result.ending == report::Ending::good);
    REQUIRE(files_below(studio.out()) == prints_and_web);
    CHECK(result.files == 6);
    for (const std::string& name : prints_and_web) {
        CHECK(content_of(studio.out() / name) == content_of(studio.original(name)));
        CHECK(fs::last_write_time(studio.out() / name) ==
              fs::last_write_time(studio.sealing.bag(1) / "data" / name));
    }
    CHECK(tree_fingerprint(studio.sealing.bag(1)) == studio.whole);
}

TEST_CASE("restore hands out the sections and frames that are asked for") {
    const Studio studio;
    auto request = studio.request(studio.out());
    request.sections = {job::Section::originals, job::Section::rejects};
    request.frames = job::FrameChoice::parse("2,GLS_0004,77");
    const auto result = studio.restore(request);
    CHECK(result.ending == report::Ending::attention);
    CHECK(find(result.findings, FindingKind::frame_unknown, "77") != nullptr);
    CHECK(files_below(studio.out()) == std::vector<std::string>{"originals/GLS_0002.DNG",
                                                                "originals/GLS_0002.xmp",
                                                                "reject-proxies/GLS_0004.JPG"});
}

TEST_CASE("restore run again goes on: what is there and the same counts, all else stays") {
    const Studio studio;
    fs::create_directories(studio.out() / "web");
    write_file(studio.out() / "web/GLS_0001.jpg", content_of(studio.original("web/GLS_0001.jpg")));
    write_file(studio.out() / "web/GLS_0002.jpg", "not ours");
    const auto result = studio.restore(studio.request(studio.out()));
    CHECK(result.ending == report::Ending::attention);
    CHECK(result.there_already == 1);
    CHECK(result.files == 4);
    CHECK(find(result.findings, FindingKind::target_exists, "web/GLS_0002.jpg") != nullptr);
    CHECK(content_of(studio.out() / "web/GLS_0002.jpg") == "not ours");
    CHECK(files_below(studio.out()) == prints_and_web);
}

TEST_CASE("damage is taken from another copy, and the copy that was read stays as it is") {
    const Studio studio;
    flip(studio.sealing.bag(1) / "data/web/GLS_0002.jpg", 700);
    fs::remove(studio.sealing.bag(1) / "data/print/GLS_0001.jpg");
    const std::string damaged = tree_fingerprint(studio.sealing.bag(1));
    auto request = studio.request(studio.out());
    SECTION("named") {
        request.from = {studio.sealing.bag(2)};
        const auto result = studio.restore(request);
        INFO(listed(result.findings));
        CHECK(result.ending == report::Ending::good);
        CHECK(result.healed.size() == 2);
        REQUIRE(files_below(studio.out()) == prints_and_web);
        for (const std::string& name : prints_and_web)
            CHECK(content_of(studio.out() / name) == content_of(studio.original(name)));
    }
    SECTION("not named: a finding, and nothing half") {
        const auto result = studio.restore(request);
        CHECK(result.ending == report::Ending::attention);
        CHECK(find(result.findings, FindingKind::beyond_repair, "data/web/GLS_0002.jpg") !=
              nullptr);
        CHECK(find(result.findings, FindingKind::beyond_repair, "data/print/GLS_0001.jpg") !=
              nullptr);
        CHECK(files_below(studio.out()).size() == 4);
    }
    CHECK(tree_fingerprint(studio.sealing.bag(1)) == damaged);
}

TEST_CASE("damage is put right from recovery data on the way, lost files and manifests too") {
    const Studio studio(20);
    flip(studio.sealing.bag(1) / "data/web/GLS_0002.jpg", 700);
    flip(studio.sealing.bag(1) / "manifest-sha512.txt", 40);
    fs::remove(studio.sealing.bag(1) / "data/web/GLS_0003.jpg");
    const std::string damaged = tree_fingerprint(studio.sealing.bag(1));
    for (const char* target : {"out", "out.zip"}) {
        const auto result =
            studio.restore(studio.request(studio.sealing.root() / std::string(target)));
        INFO(listed(result.findings));
        CHECK(result.ending == report::Ending::good);
        CHECK(result.healed.size() == 2);
        CHECK(result.files == 6);
        CHECK(find(result.findings, FindingKind::tag_altered, "manifest-sha512.txt") != nullptr);
    }
    for (const std::string& name : prints_and_web)
        CHECK(content_of(studio.out() / name) == content_of(studio.original(name)));
    CHECK(tree_fingerprint(studio.sealing.bag(1)) == damaged);
}

TEST_CASE("sectors that cannot be read are no reason to hand out half a picture") {
    const Studio studio;
    FaultFileSystem files(io::posix_file_system());
    files.damage("drive-1/" + std::string(Sealing::name) + "/data/web/GLS_0001.jpg", 0);
    auto request = studio.request(studio.out());
    const auto result = studio.restore(files, request);
    CHECK(result.ending == report::Ending::attention);
    CHECK_FALSE(fs::exists(studio.out() / "web/GLS_0001.jpg"));
    CHECK(files_below(studio.out()).size() == 5);
}

TEST_CASE("wherever restore fails, what arrived is whole and the next run completes it") {
    const Studio studio;
    for (std::uint64_t n = 1;; n += 5) {
        FaultFileSystem files(io::posix_file_system());
        files.fail_at(n);
        std::optional<report::RestoreResult> result;
        try {
            result = studio.restore(files, studio.request(studio.out()));
        } catch (const Error&) {
            result.reset();
        }
        INFO("operation " << n);
        for (const std::string& name : files_below(studio.out()))
            if (!name.starts_with("."))
                REQUIRE(content_of(studio.out() / name) == content_of(studio.original(name)));
        const bool over = !files.failed();
        if (over) REQUIRE(result->ending == report::Ending::good);
        const auto again = studio.restore(studio.request(studio.out()));
        REQUIRE(again.ending == report::Ending::good);
        REQUIRE(files_below(studio.out()) == prints_and_web);
        fs::remove_all(studio.out());
        if (over) break;
    }
    CHECK(tree_fingerprint(studio.sealing.bag(1)) == studio.whole);
}

TEST_CASE("an interrupted restore hands out nothing") {
    Studio studio;
    studio.stop.request_stop();
    try {
        const auto result = studio.restore(studio.request(studio.out()));
        CHECK(result.ending == report::Ending::interrupted);
    } catch (const Error& error) {
        CHECK(error.cause() == Cause::interrupted);
    }
    CHECK_FALSE(fs::exists(studio.out()));
}

TEST_CASE("a gallery shows what was handed out") {
    const Studio studio;
    auto request = studio.request(studio.out());
    request.gallery = true;
    const auto result = studio.restore(request);
    INFO(listed(result.findings));
    CHECK(result.ending == report::Ending::good);
    CHECK(result.gallery);
    const std::string page = content_of(studio.out() / "index.html");
    for (const std::string& name : prints_and_web)
        CHECK(page.find("href=\"" + name + "\"") != std::string::npos);
    CHECK(fs::exists(studio.out() / "thumbnails/0003.jpg"));
    CHECK(page.find("3 pictures") != std::string::npos);
    CHECK(page.find("Maren Holt: harbour gala") != std::string::npos);
}

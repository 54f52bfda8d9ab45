#include "glassine/journeys/preflight.h"
#include "pictures.h"
#include "support/fault_file_system.h"
#include "support/sealing.h"

#include <algorithm>
#include <atomic>
#include <condition_variable>
#include <functional>
#include <map>
#include <mutex>
#include <set>
#include <thread>

using namespace glassine;
using namespace glassine::test;
namespace fs = std::filesystem;

/// Real files, each job with exactly one fault: found exactly once, with the right path. The same
/// over metadata alone, and what needs many frames, is in tests/job.
namespace {

demo::Shot shot_of(int number) {
    demo::Shot shot;
    shot.captured = demo::local_time(2025, 6, 14, 11, 20) + std::chrono::seconds(7 * number);
    shot.copyright = "(c) 2025 Harrowgate Lane Pictures";
    shot.scene = static_cast<std::uint64_t>(number);
    shot.grain = static_cast<std::uint64_t>(number);
    return shot;
}

const demo::JpegOptions print_size{
    .width = 1800, .height = 1200, .profile = demo::Profile::srgb, .thumbnail = false};
const demo::JpegOptions web_size{
    .width = 300, .height = 200, .profile = demo::Profile::srgb, .thumbnail = false};
const demo::DngOptions raw_size{
    .width = 64, .height = 48, .preview_width = 96, .preview_height = 64};

/// Two kept frames and a rejected one, in memory.
using Files = std::map<std::string, std::string>;
Files make_clean_files() {
    Files files;
    for (const int number : {1, 2}) {
        const std::string name = "GLS_000" + std::to_string(number);
        demo::XmpFields fields;
        fields.raw_file_name = name + ".DNG";
        files["originals/" + name + ".DNG"] = demo::dng(shot_of(number), raw_size);
        files["originals/" + name + ".xmp"] = demo::xmp_packet(fields);
        files["print/" + name + ".jpg"] = demo::jpeg(shot_of(number), print_size);
        files["web/" + name + ".jpg"] = demo::jpeg(shot_of(number), web_size);
    }
    files["rejects/GLS_0003.DNG"] = demo::dng(shot_of(3), raw_size);
    files["rejects/GLS_0003.JPG"] = demo::jpeg(shot_of(3), web_size);
    return files;
}
const Files& clean_files() {
    static const Files files = make_clean_files();
    return files;
}

struct Fault {
    const char* what;
    FindingKind kind;
    const char* path;
    std::function<void(Files&)> act;
};

void cut(std::string& content, double share) {
    content.resize(static_cast<std::size_t>(static_cast<double>(content.size()) * share));
}

void spoil(std::string& content, double where) {
    const auto at = static_cast<std::size_t>(static_cast<double>(content.size()) * where);
    content.replace(at, 64, noise(64, 3));
}

std::string web_without(const std::function<void(demo::Shot&, demo::JpegOptions&)>& change) {
    demo::Shot shot = shot_of(1);
    demo::JpegOptions options = web_size;
    change(shot, options);
    return demo::jpeg(shot, options);
}

const std::vector<Fault>& broken_pictures() {
    using enum FindingKind;
    static const std::vector<Fault> all{
        {"a JPEG that is cut off", image_broken, "print/GLS_0001.jpg",
         [](Files& f) { cut(f["print/GLS_0001.jpg"], 0.6); }},
        {"a JPEG without its end mark", image_broken, "web/GLS_0002.jpg",
         [](Files& f) { f["web/GLS_0002.jpg"].resize(f["web/GLS_0002.jpg"].size() - 2); }},
        {"a JPEG with a foreign sector", image_broken, "print/GLS_0002.jpg",
         [](Files& f) { f["print/GLS_0002.jpg"].replace(20480, 4096, noise(4096, 5)); }},
        {"a raw that is cut off", image_broken, "originals/GLS_0001.DNG",
         [](Files& f) { cut(f["originals/GLS_0001.DNG"], 0.9); }},
        {"a rejected raw that is cut off", image_broken, "rejects/GLS_0003.DNG",
         [](Files& f) { cut(f["rejects/GLS_0003.DNG"], 0.9); }},
        {"a TIFF that is cut off", image_broken, "print/GLS_0001.tif",
         [](Files& f) {
             f.erase("print/GLS_0001.jpg");
             f["print/GLS_0001.tif"] = demo::tiff(shot_of(1), {.width = 1800, .height = 1200});
             cut(f["print/GLS_0001.tif"], 0.7);
         }},
        {"a PNG with wrong bytes", image_broken, "print/GLS_0001.png",
         [](Files& f) {
             f.erase("print/GLS_0001.jpg");
             f["print/GLS_0001.png"] = demo::png(shot_of(1), {.width = 1800, .height = 1200});
             spoil(f["print/GLS_0001.png"], 0.5);
         }},
        {"a sidecar that is cut off", image_broken, "originals/GLS_0002.xmp",
         [](Files& f) { cut(f["originals/GLS_0002.xmp"], 0.5); }},
    };
    return all;
}

const std::vector<Fault>& other_faults() {
    using enum FindingKind;
    static const std::vector<Fault> all{
        {"a delivered picture without its original", delivered_without_original, "web/GLS_0009.jpg",
         [](Files& f) { f["web/GLS_0009.jpg"] = demo::jpeg(shot_of(9), web_size); }},
        {"a kept original that was never delivered", original_not_delivered,
         "originals/GLS_0002.DNG",
         [](Files& f) {
             f.erase("print/GLS_0002.jpg");
             f.erase("web/GLS_0002.jpg");
         }},
        {"the same content twice", duplicate_content, "web/again.jpg",
         [](Files& f) { f["web/again.jpg"] = f["web/GLS_0001.jpg"]; }},
        {"a sidecar without its raw", sidecar_orphan, "originals/GLS_0008.xmp",
         [](Files& f) {
             f["originals/GLS_0008.xmp"] = demo::xmp_packet({.raw_file_name = "GLS_0008.DNG"});
         }},
        {"a place in a web picture", location_in_web_image, "web/GLS_0001.jpg",
         [](Files& f) {
             f["web/GLS_0001.jpg"] = web_without([](demo::Shot& shot, auto&) {
                 shot.place = demo::Place{51.5, -0.1};
             });
         }},
        {"a wide colour space on the web", color_space, "web/GLS_0001.jpg",
         [](Files& f) {
             f["web/GLS_0001.jpg"] =
                 web_without([](auto&, demo::JpegOptions& o) { o.profile = demo::Profile::wide; });
         }},
        {"no rights notice", rights_missing, "web/GLS_0001.jpg",
         [](Files& f) {
             f["web/GLS_0001.jpg"] =
                 web_without([](demo::Shot& shot, auto&) { shot.copyright.clear(); });
         }},
        {"a web picture that is too large", web_too_large, "web/GLS_0001.jpg",
         [](Files& f) {
             f["web/GLS_0001.jpg"] = web_without([](auto&, demo::JpegOptions& o) {
                 o.width = 5000;
                 o.height = 40;
             });
         }},
        {"a print that is too small", print_too_small, "print/GLS_0001.jpg",
         [](Files& f) { f["print/GLS_0001.jpg"] = f["web/GLS_0001.jpg"] + '\0'; }},
        {"a print without a profile", color_space, "print/GLS_0001.jpg",
         [](Files& f) {
             demo::JpegOptions options = print_size;
             options.profile = demo::Profile::none;
             f["print/GLS_0001.jpg"] = demo::jpeg(shot_of(1), options);
         }},
        {"an empty file", file_empty, "originals/notes.txt",
         [](Files& f) { f["originals/notes.txt"] = ""; }},
        {"a name that is not portable", name_not_portable, "originals/what?.txt",
         [](Files& f) { f["originals/what?.txt"] = "notes"; }},
        {"a file outside the sections", unsorted_file, "contract.pdf",
         [](Files& f) { f["contract.pdf"] = "contract"; }},
        {"what an operating system left", system_junk, "web/Thumbs.db",
         [](Files& f) { f["web/Thumbs.db"] = "junk"; }},
        {"an unfinished download", unfinished_file, "web/GLS_0004.jpg.part",
         [](Files& f) { f["web/GLS_0004.jpg.part"] = "half"; }},
    };
    return all;
}

struct Job {
    TempFolder folder;

    void put(const Files& files) const {
        fs::remove_all(folder / "job");
        for (const auto& [name, content] : files)
            folder.write("job/" + name, content);
    }

    report::PreflightResult preflight(io::FileSystem& files = io::posix_file_system(),
                                      Date date = *parse_date("2025-06-14")) const {
        journeys::SilentMonitor silent;
        const journeys::Context context{files, silent, {}, {}, "keeper", {}};
        journeys::PreflightRequest request;
        request.job = folder / "job";
        request.date = date;
        return journeys::preflight(context, request);
    }
};

void check_fault(const Job& job, const Fault& fault) {
    Files files = clean_files();
    fault.act(files);
    job.put(files);
    const auto result = job.preflight();
    INFO(fault.what << "\n" << listed(result.findings));
    REQUIRE(result.findings.size() == 1);
    CHECK(word(result.findings[0].kind) == word(fault.kind));
    CHECK(result.findings[0].path == fault.path);
    const bool blocks = result.findings[0].severity >= Severity::blocking;
    CHECK((result.ending == report::Ending::attention) == blocks);
}

}  // namespace

TEST_CASE("a clean job of real pictures has no finding at all") {
    const Job job;
    job.put(clean_files());
    const std::string before = tree_fingerprint(job.folder.path());
    const auto result = job.preflight();
    INFO(listed(result.findings));
    CHECK(result.findings.empty());
    CHECK(result.ending == report::Ending::good);
    CHECK(result.summary.total.shot == 3);
    CHECK(result.summary.total.kept == 2);
    CHECK(result.summary.total.rejected == 1);
    CHECK(tree_fingerprint(job.folder.path()) == before);
}

TEST_CASE("a job with one broken picture has this one finding") {
    const Job job;
    for (const Fault& fault : broken_pictures())
        check_fault(job, fault);
}

TEST_CASE("a job with any other fault has this one finding") {
    const Job job;
    for (const Fault& fault : other_faults())
        check_fault(job, fault);
}

TEST_CASE("a date that the pictures contradict is one finding") {
    const Job job;
    job.put(clean_files());
    const auto result = job.preflight(io::posix_file_system(), *parse_date("2025-07-01"));
    INFO(listed(result.findings));
    REQUIRE(result.findings.size() == 1);
    CHECK(word(result.findings[0].kind) == word(FindingKind::date_mismatch));
}

TEST_CASE("a number missing between kept and rejected frames is one finding") {
    const Job job;
    Files files = clean_files();
    for (const char* ending : {".DNG", ".JPG"}) {
        auto node = files.extract(std::string("rejects/GLS_0003") + ending);
        node.key() = std::string("rejects/GLS_0005") + ending;
        files.insert(std::move(node));
    }
    job.put(files);
    const auto result = job.preflight();
    INFO(listed(result.findings));
    REQUIRE(result.findings.size() == 1);
    CHECK(word(result.findings[0].kind) == word(FindingKind::frame_gap));
}

TEST_CASE("a picture that reads differently the second time is an unstable source") {
    // Larger than can be kept side by side, so that some are read once more to be examined.
    if (std::thread::hardware_concurrency() < 2) return;  // one core reads one file after another
    const Job job;
    Files files = clean_files();
    constexpr std::size_t large = 76'000'000;
    std::vector<std::string> names;
    for (int i = 4; i < 7; ++i) {
        names.push_back("originals/GLS_000" + std::to_string(i) + ".DNG");
        files[names.back()] = files["originals/GLS_0001.DNG"];
        files[names.back()].resize(large + static_cast<std::size_t>(i));
    }
    job.put(files);
    FaultFileSystem faults(io::posix_file_system());
    std::map<std::string, std::atomic<int>> begun;
    std::atomic<int> again{0};
    faults.set_rotates(false);  // several readers
    // A file waits in its middle until a second one is as far, so that two are on their way at
    // once however busy the machine is.
    std::mutex mutex;
    std::condition_variable changed;
    std::set<std::string> in_the_middle;
    for (const std::string& name : names) {
        begun[name] = 0;
        faults.before_read("job/" + name, [&, name](std::uint64_t offset) {
            if (offset > large / 2) {
                std::unique_lock lock(mutex);
                in_the_middle.insert(name);
                changed.notify_all();
                changed.wait_for(lock, std::chrono::seconds(30),
                                 [&] { return in_the_middle.size() > 1; });
            }
            if (offset != 0 || ++begun[name] != 2) return;
            ++again;
            fs::resize_file(job.folder / "job" / name, large / 2);
            fs::resize_file(job.folder / "job" / name, large);
        });
    }
    const auto result = job.preflight(faults);
    INFO(listed(result.findings));
    const auto unstable =
        std::ranges::count(result.findings, FindingKind::unstable_source, &Finding::kind);
    CHECK(unstable == again);
    CHECK(again > 0);
    CHECK(result.ending == report::Ending::attention);
}

#include "damage.h"
#include "glassine/photo/examine.h"
#include "support/program.h"
#include "support/temp_folder.h"

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <set>
#include <sstream>
#include <string>
#include <vector>

#include <catch2/catch.hpp>
#include <fmt/format.h>
#include <sys/wait.h>

using namespace glassine;
using namespace glassine::photo;
namespace fs = std::filesystem;

namespace {

/// Files that their owners have cut or built to break readers; their own names say so.
bool meant_to_be_broken(const fs::path& path) {
    std::string name = path.filename().string();
    std::ranges::transform(name, name.begin(), [](unsigned char c) { return std::tolower(c); });
    for (const char* word :
         {"poc",           "pruned",         "overread",     "crash",     "reproducer",
          "coverage",      "heap",           "stack",        "invalid",   "oob",
          "out-of-read",   "printstructure", "uncontrolled", "printifd",  "issue_",
          "string-format", "out-of-bound",   "bad_free",     "table.jpg", "issue-",
          "exiv2-bug1108", "exiv2-bug1247",  "exiv2-bug841", "-min.",     "issue1472",
          "test_issue"})
        if (name.find(word) != std::string::npos) return true;
    // Cut behind their metadata to be small: a telephone's DNG of 64 KB, a raw of 10 KB.
    return (name.ends_with(".dng") || name.ends_with(".crw")) && fs::file_size(path) < 100'000;
}

std::vector<fs::path> files_below(const fs::path& folder) {
    std::vector<fs::path> out;
    for (const auto& entry : fs::recursive_directory_iterator(folder))
        if (entry.is_regular_file() && entry.file_size() < (64u << 20)) out.push_back(entry.path());
    std::ranges::sort(out);
    return out;
}

/// 0 whole, 1 refused, 2 warnings; -1 without the program (Debian package libjpeg-turbo-progs).
int djpeg(const fs::path& path) {
    if (std::system("command -v djpeg > /dev/null 2>&1") != 0) return -1;
    const int status =
        std::system(("djpeg -outfile /dev/null '" + path.string() + "' > /dev/null 2>&1").c_str());
    return WEXITSTATUS(status);
}

/// An independent reader (Debian package python3-pil): for each file a line, empty where Pillow
/// cannot read the picture or its Exif.
constexpr const char* pillow_script = R"py(
import sys, warnings
from PIL import Image
warnings.simplefilter('ignore')
clean = lambda d, k: str(d.get(k, '')).split('\\0')[0].strip()
for path in sys.stdin.read().splitlines():
    line = ''
    try:
        with Image.open(path) as im:
            exif = im.getexif()
            sub = exif.get_ifd(0x8769)
            line = '|'.join([str(im.width), str(im.height), clean(exif, 0x010F),
                             clean(exif, 0x0110), clean(sub, 0x9003)])
    except Exception:
        pass
    print(line.replace('\\n', ' ').encode('ascii', 'replace').decode())
)py";

std::string as_pillow_prints(const Picture& p) {
    std::string time;
    if (p.captured) {
        const auto day = std::chrono::floor<std::chrono::days>(p.captured->local);
        const std::chrono::year_month_day date(day);
        const std::chrono::hh_mm_ss clock(p.captured->local - day);
        time = fmt::format("{:04}:{:02}:{:02} {:02}:{:02}:{:02}", int(date.year()),
                           unsigned(date.month()), unsigned(date.day()), clock.hours().count(),
                           clock.minutes().count(), clock.seconds().count());
    }
    return fmt::format("{}|{}|{}|{}|{}", p.width, p.height, p.make, p.model, time);
}

/// The folder with real pictures; empty when there is none.
fs::path real_pictures() {
    const char* folder = std::getenv("GLASSINE_REAL_PICTURES");
    return folder != nullptr && fs::is_directory(folder) ? fs::path(folder) : fs::path();
}

}  // namespace

// The files: test data of general-purpose libraries, which Debian carries as source packages
// (exiv2's test/data). GLASSINE_REAL_PICTURES points at a folder with them; tests/run fetches it
// where it can.
TEST_CASE(
    "real camera files: none is called broken that is not, and the malformed ones crash nothing") {
    const fs::path folder = real_pictures();
    if (folder.empty()) {
        WARN("SKIPPED: GLASSINE_REAL_PICTURES does not point at a folder of real pictures");
        return;
    }
    int pictures = 0;
    int described = 0;
    for (const fs::path& path : files_below(folder)) {
        const std::string file = test::content_of(path);
        const Examined found = examine(test::bytes_of(file), path.filename().string(), {64, false});
        if (found.picture.kind == Kind::other || file.empty()) continue;
        ++pictures;
        described += found.picture.model.empty() ? 0 : 1;
        INFO(path.filename() << ": " << found.picture.why);
        if (found.picture.kind == Kind::jpeg && file.starts_with("\xff\xd8")) {
            const int judged = djpeg(path);
            if (judged == 0) CHECK(found.picture.verdict == Verdict::whole);
            if (judged > 0) CHECK(found.picture.verdict != Verdict::whole);
        } else if (!meant_to_be_broken(path)) {
            CHECK(found.picture.verdict != Verdict::broken);
        }
    }
    WARN(pictures << " real pictures looked at, " << described << " with a camera's name");
    CHECK(pictures > 0);
}

TEST_CASE("real camera files: Exif says what Pillow reads") {
    const fs::path folder = real_pictures();
    if (folder.empty()) {
        WARN("SKIPPED: GLASSINE_REAL_PICTURES does not point at a folder of real pictures");
        return;
    }
    const test::TempFolder temp;
    const fs::path script = temp.write("read.py", pillow_script);
    std::string paths;
    std::vector<fs::path> files;
    for (const fs::path& path : files_below(folder)) {
        const std::string file = test::content_of(path);
        if (!file.starts_with("\xff\xd8\xff") || meant_to_be_broken(path) || djpeg(path) != 0)
            continue;
        files.push_back(path);
        paths += path.string() + "\n";
    }
    const fs::path list = temp.write("paths", paths);
    const auto ended =
        test::run({"sh", "-c", "/usr/bin/python3 " + script.string() + " < " + list.string()});
    if (ended.code != 0) {
        WARN("SKIPPED: no Python with Pillow (Debian package python3-pil)");
        return;
    }
    std::istringstream lines(ended.out);
    int compared = 0;
    int different = 0;
    for (const fs::path& path : files) {
        std::string theirs;
        REQUIRE(std::getline(lines, theirs));
        const Picture ours =
            examine(test::bytes_of(test::content_of(path)), path.filename().string()).picture;
        // Only where Pillow sees a camera at all; without Exif there is nothing to compare.
        if (theirs.empty() || theirs.find("|||") != std::string::npos) continue;
        ++compared;
        INFO(path.filename());
        const bool same = as_pillow_prints(ours) == theirs;
        if (!same) UNSCOPED_INFO("ours " << as_pillow_prints(ours) << "  theirs " << theirs);
        CHECK(same);
        different += same ? 0 : 1;
    }
    WARN(compared << " real pictures compared with Pillow, " << different << " differ");
    CHECK(compared > 0);
}

#include "pictures.h"
#include "support/program.h"
#include "support/sealing.h"

#include <algorithm>
#include <cctype>

using namespace glassine;
using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

constexpr int width = 1200;
constexpr int height = 800;
constexpr const char* name = "data/print/GLS_0001.jpg";

/// A print large enough for damage to lie in one block of several.
void write_large_print(const fs::path& job) {
    demo::Shot shot;
    shot.captured = demo::local_time(2025, 6, 14, 11, 20) + std::chrono::seconds(7);
    shot.copyright = "(c) 2025 Harrowgate Lane Pictures";
    write_file(job / "print/GLS_0001.jpg", demo::jpeg(shot, {.width = width,
                                                             .height = height,
                                                             .quality = 95,
                                                             .profile = demo::Profile::srgb,
                                                             .thumbnail = false}));
}

/// The pixels as libjpeg-turbo's own program decodes them (Debian package libjpeg-turbo-progs).
std::string pixels(const fs::path& picture) {
    const std::string out = run({"djpeg", "-pnm", picture.string()}).out;
    constexpr std::size_t all = std::size_t{3} * width * height;
    REQUIRE(out.size() > all);
    return out.substr(out.size() - all);
}

/// The first line in which two pictures differ.
std::size_t first_difference(const std::string& a, const std::string& b) {
    const auto at = std::ranges::mismatch(a, b).in1 - a.begin();
    return static_cast<std::size_t>(at) / (std::size_t{3} * width);
}

/// "… from line 1,024 of 1,067 on".
std::size_t told_line(const std::string& detail) {
    const std::size_t at = detail.find("from line ");
    REQUIRE(at != std::string::npos);
    std::string digits;
    for (std::size_t i = at + 10; detail[i] != ' '; ++i)
        if (detail[i] != ',') digits += detail[i];
    return std::stoul(digits);
}

}  // namespace

TEST_CASE("an audit tells from which line on a damaged JPEG is lost") {
    if (run({"sh", "-c", "command -v djpeg"}).code != 0) {
        WARN("SKIPPED: djpeg is not installed (libjpeg-turbo-progs)");
        return;
    }
    Sealing sealing({.kept = 1, .rejected = 1});
    write_large_print(sealing.job());
    auto request = sealing.request({1});
    request.recovery_percent = 5;
    REQUIRE(sealing.closeout(io::posix_file_system(), request).ending == report::Ending::good);
    const fs::path picture = sealing.bag(1) / name;
    const std::string whole = content_of(picture);
    const std::string right = pixels(picture);
    REQUIRE(whole.size() > 150'000);
    for (const double where : {0.3, 0.5, 0.8}) {
        const auto at = static_cast<std::size_t>(static_cast<double>(whole.size()) * where);
        for (const bool zeros : {true, false}) {
            std::string hurt = whole;
            hurt.replace(at, 4096, zeros ? std::string(4096, '\0') : noise(4096, 11));
            write_file(picture, hurt);
            const auto audit = sealing.audit(sealing.bag(1));
            const Finding* f =
                find(audit.bags.at(0).report.findings, FindingKind::payload_altered, name);
            REQUIRE(f != nullptr);
            INFO(f->detail);
            const std::size_t lost = first_difference(right, pixels(picture));
            // Told by the block in which the damage begins: never too late, and at most what one
            // block holds too early.
            const std::size_t line = told_line(f->detail);
            CHECK(line <= lost);
            CHECK(line + 16384 * height / whole.size() + 48 >= lost);
        }
    }
}

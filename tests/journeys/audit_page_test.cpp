#include "glassine/journeys/page_file.h"
#include "journeys/damaged_pictures.h"
#include "support/sealing.h"

#include <algorithm>

using namespace glassine;
using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

report::AuditNotes noted_audit(const fs::path& drive) {
    journeys::SilentMonitor monitor;
    const journeys::Context context{io::posix_file_system(), monitor, {}, {}, "keeper", {}};
    report::AuditNotes notes;
    journeys::AuditRequest request;
    request.paths = {drive};
    request.notes = &notes;
    const auto result = journeys::audit(context, request);
    REQUIRE(notes.bags.size() == result.bags.size());
    return notes;
}

}  // namespace

TEST_CASE("an audit notes each damaged picture with its sealed small picture and the lost part") {
    Sealing sealing;
    REQUIRE(sealing.closeout().ending == report::Ending::good);
    const fs::path bag = sealing.bag(1);
    CHECK(noted_audit(sealing.drive(1)).bags[0].pictures.empty());
    // A JPEG's last lines are gone, another picture is gone, a text was changed.
    const std::string print = "data/print/GLS_0001.jpg";
    fs::resize_file(bag / print, fs::file_size(bag / print) * 9 / 10);
    fs::remove(bag / "data/originals/GLS_0002.DNG");
    write_file(bag / "data/originals/GLS_0001.xmp", "changed");
    const report::AuditNotes notes = noted_audit(sealing.drive(1));
    CHECK(notes.person == "keeper");
    REQUIRE(notes.drives.size() == 1);
    CHECK(notes.drives[0].bags == std::vector<std::size_t>{0});
    const auto& pictures = notes.bags[0].pictures;
    REQUIRE(pictures.size() == 2);
    for (const report::DamagedPicture& picture : pictures) {
        CHECK(picture.thumbnail.starts_with("\xff\xd8\xff"));
        REQUIRE(picture.lost);
        if (picture.path == print) {
            const auto& lost = *picture.lost;
            CAPTURE(lost.left, lost.top, lost.width, lost.height, picture.says);
            CHECK(lost.width * lost.height > 0);
            CHECK(lost.width * lost.height < 0.9);
            CHECK(picture.says.find("is lost from line") != std::string::npos);
        } else {
            CHECK(picture.path == "data/originals/GLS_0002.DNG");
            CHECK(*picture.lost == report::DamagedPicture::Part{});
        }
    }
    // The index is not believed when it was changed itself, nor a small picture that was.
    fs::resize_file(bag / "photo-index/frames.csv", 40);
    const report::AuditNotes without = noted_audit(sealing.drive(1));
    for (const report::DamagedPicture& picture : without.bags[0].pictures)
        CHECK(picture.thumbnail.empty());
}

// Exif 2.32, §4.6.4 A, Orientation: which side of the picture as it is looked at the stored first
// row is on; lines are lost from there on to the other side.
TEST_CASE("lost lines lie where the picture is turned to") {
    photo::Picture picture;
    picture.verdict = photo::Verdict::broken;
    picture.height = 100;
    picture.lost_from_line = 25;
    using Part = report::DamagedPicture::Part;
    const std::array<Part, 8> expected{Part{0, 0.25, 1, 0.75}, Part{0, 0.25, 1, 0.75},
                                       Part{0, 0, 1, 0.75},    Part{0, 0, 1, 0.75},
                                       Part{0.25, 0, 0.75, 1}, Part{0, 0, 0.75, 1},
                                       Part{0, 0, 0.75, 1},    Part{0.25, 0, 0.75, 1}};
    for (std::uint16_t orientation = 1; orientation <= 8; ++orientation) {
        picture.orientation = orientation;
        CAPTURE(orientation);
        CHECK(journeys::lost_part(picture) == expected[orientation - 1u]);
    }
    picture.lost_from_line = std::nullopt;
    CHECK_FALSE(journeys::lost_part(picture));
    picture.lost_from_line = 0;
    picture.verdict = photo::Verdict::whole;
    CHECK_FALSE(journeys::lost_part(picture));
}

TEST_CASE("a page's place is looked at before the work, and nothing is replaced") {
    const TempFolder folder;
    io::FileSystem& files = io::posix_file_system();
    write_file(folder / "there.html", "mine");
    CHECK_THROWS_AS(journeys::PageFile(files, folder / "there.html"), Error);
    CHECK_THROWS_AS(journeys::PageFile(files, folder / "no such folder/a.html"), Error);
    CHECK(content_of(folder / "there.html") == "mine");
    const journeys::PageFile page(files, folder / "a.html");
    page.write("<html>");
    CHECK(content_of(folder / "a.html") == "<html>");
}

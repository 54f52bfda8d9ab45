#include "glassine/job/layout.h"

#include "glassine/base/error.h"
#include "glassine/base/text.h"
#include "support/temp_folder.h"

#include <algorithm>
#include <filesystem>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace std::string_literals;
using job::JobFolders;
using job::Layout;
using job::Role;
using job::Section;
using test::TempFolder;

namespace {

const std::string apple_double("\x00\x05\x16\x07 resource", 13);

/// A job in which everything is as it should be.
void write_clean_job(const TempFolder& folder) {
    for (const char* name :
         {"originals/100ABCDE/ABCD0001.DNG", "originals/100ABCDE/ABCD0001.xmp",
          "originals/100ABCDE/ABCD0002.DNG", "originals/films/dance.mov", "originals/catalogue.db",
          "print/Ünlü 01.jpg", "print/large/02.tif", "web/01.jpg", "rejects/ABCD0003.DNG",
          "rejects/ABCD0003.JPG", "rejects/ABCD0003.xmp", "rejects/ABCD0004.jpeg"})
        folder.write(name, std::string("content of ") + name);
}

Layout scan(const TempFolder& folder) {
    JobFolders folders;
    folders.job = folder.path();
    return job::scan_job(io::posix_file_system(), folders);
}

const job::JobFile& file(const Layout& layout, std::string_view shown) {
    const auto at = std::ranges::find(layout.files, shown, &job::JobFile::shown);
    REQUIRE(at != layout.files.end());
    return *at;
}

/// Exactly one finding, of this kind, with this path.
void check_only(const Layout& layout, FindingKind kind, const std::string& path,
                Severity severity) {
    for (const Finding& finding : layout.findings)
        UNSCOPED_INFO(word(finding.kind) << " " << finding.path << ": " << finding.detail);
    REQUIRE(layout.findings.size() == 1);
    CHECK(word(layout.findings[0].kind) == word(kind));
    CHECK(layout.findings[0].path == path);
    CHECK(layout.findings[0].severity == severity);
    CHECK_FALSE(layout.findings[0].detail.empty());
}

}  // namespace

TEST_CASE("a clean job has every file in its place and no finding") {
    const TempFolder folder;
    write_clean_job(folder);
    const Layout layout = scan(folder);
    CHECK(layout.findings.empty());
    CHECK(layout.files.size() == 12);

    const job::JobFile& raw = file(layout, "originals/100ABCDE/ABCD0001.DNG");
    CHECK(raw.name == "data/originals/100ABCDE/ABCD0001.DNG");
    CHECK(raw.role == Role::raw);
    CHECK(raw.section == Section::originals);
    CHECK(raw.size == 42);
    CHECK(test::content_of(raw.path) == "content of originals/100ABCDE/ABCD0001.DNG");
    CHECK(raw.modified.nanoseconds > 0);

    CHECK(file(layout, "originals/100ABCDE/ABCD0001.xmp").role == Role::sidecar);
    CHECK(file(layout, "originals/catalogue.db").role == Role::other);
    CHECK(file(layout, "originals/films/dance.mov").is_payload());
    CHECK(file(layout, "print/large/02.tif").role == Role::picture);
    CHECK(file(layout, "print/Ünlü 01.jpg").name == "data/print/Ünlü 01.jpg");
}

TEST_CASE("of the rejects, JPEGs and sidecars are kept and raws only known") {
    const TempFolder folder;
    write_clean_job(folder);
    const Layout layout = scan(folder);
    CHECK_FALSE(file(layout, "rejects/ABCD0003.DNG").is_payload());
    CHECK(file(layout, "rejects/ABCD0003.DNG").role == Role::raw);
    CHECK(file(layout, "rejects/ABCD0003.JPG").name == "data/reject-proxies/ABCD0003.JPG");
    CHECK(file(layout, "rejects/ABCD0003.JPG").role == Role::proxy);
    CHECK(file(layout, "rejects/ABCD0004.jpeg").role == Role::proxy);
    CHECK(file(layout, "rejects/ABCD0003.xmp").name == "data/reject-proxies/ABCD0003.xmp");
}

TEST_CASE("scanning alters nothing") {
    const TempFolder folder;
    write_clean_job(folder);
    const std::string before = test::tree_fingerprint(folder.path());
    scan(folder);
    CHECK(test::tree_fingerprint(folder.path()) == before);
}

TEST_CASE("each stray is found exactly once") {
    const TempFolder folder;
    write_clean_job(folder);

    SECTION("junk of an operating system") {
        folder.write("originals/.DS_Store", "x");
        check_only(scan(folder), FindingKind::system_junk, "originals/.DS_Store", Severity::note);
    }
    SECTION("junk outside the sections") {
        folder.write("Thumbs.db", "x");
        check_only(scan(folder), FindingKind::system_junk, "Thumbs.db", Severity::note);
    }
    SECTION("a folder of junk, once for all that is in it") {
        folder.write("print/__MACOSX/large/._02.tif", apple_double);
        folder.write("print/__MACOSX/more", "x");
        check_only(scan(folder), FindingKind::system_junk, "print/__MACOSX", Severity::note);
    }
    SECTION("AppleDouble beside its file") {
        folder.write("web/._01.jpg", apple_double);
        const Layout layout = scan(folder);
        check_only(layout, FindingKind::system_junk, "web/._01.jpg", Severity::note);
        CHECK(layout.files.size() == 12);
    }
    SECTION("an unfinished download") {
        folder.write("web/02.jpg.part", "x");
        check_only(scan(folder), FindingKind::unfinished_file, "web/02.jpg.part",
                   Severity::blocking);
    }
    SECTION("a copy in progress") {
        folder.write("originals/.ABCD0007.DNG.aB3dEf", "x");
        check_only(scan(folder), FindingKind::unfinished_file, "originals/.ABCD0007.DNG.aB3dEf",
                   Severity::blocking);
    }
    SECTION("an unfinished file outside the sections") {
        folder.write("02.jpg.crdownload", "x");
        check_only(scan(folder), FindingKind::unfinished_file, "02.jpg.crdownload",
                   Severity::blocking);
    }
    SECTION("an empty file") {
        folder.write("originals/100ABCDE/ABCD0005.DNG", "");
        check_only(scan(folder), FindingKind::file_empty, "originals/100ABCDE/ABCD0005.DNG",
                   Severity::blocking);
    }
    SECTION("a file outside the sections") {
        folder.write("selects/best/01.jpg", "x");
        check_only(scan(folder), FindingKind::unsorted_file, "selects/best/01.jpg",
                   Severity::blocking);
    }
    SECTION("a symbolic link") {
        std::filesystem::create_symlink("ABCD0001.DNG", folder / "originals/100ABCDE/link.DNG");
        check_only(scan(folder), FindingKind::special_file, "originals/100ABCDE/link.DNG",
                   Severity::blocking);
    }
    SECTION("a section that is a symbolic link") {
        std::filesystem::rename(folder / "web", folder / "print/web");
        std::filesystem::create_directory_symlink("print/web", folder / "web");
        check_only(scan(folder), FindingKind::special_file, "web", Severity::blocking);
    }
    SECTION("a name that cannot be kept everywhere") {
        folder.write("print/10:30.jpg", "x");
        check_only(scan(folder), FindingKind::name_not_portable, "print/10:30.jpg",
                   Severity::warning);
    }
    SECTION("a folder's name that cannot be kept everywhere, once for all that is in it") {
        folder.write("print/aux/01.jpg", "x");
        folder.write("print/aux/02.jpg", "y");
        check_only(scan(folder), FindingKind::name_not_portable, "print/aux", Severity::warning);
    }
    SECTION("names that differ only in case") {
        folder.write("web/01.JPG", "x");
        check_only(scan(folder), FindingKind::name_collision, "web/01.jpg", Severity::blocking);
    }
    SECTION("names that differ only in normalisation") {
        folder.write("print/U\u0308nlu\u0308 01.jpg", "x");
        check_only(scan(folder), FindingKind::name_collision, "print/Ünlü 01.jpg",
                   Severity::blocking);
    }
    SECTION("folders that differ only in case, once for all that is in them") {
        folder.write("print/LARGE/02.tif", "x");
        folder.write("print/LARGE/03.tif", "x");
        check_only(scan(folder), FindingKind::name_collision, "print/large", Severity::blocking);
    }
}

TEST_CASE("a file named like AppleDouble that is none is kept") {
    const TempFolder folder;
    write_clean_job(folder);
    folder.write("web/._art.jpg", "\xff\xd8\xff\xe0 a picture");
    const Layout layout = scan(folder);
    CHECK(layout.findings.empty());
    CHECK(file(layout, "web/._art.jpg").is_payload());
}

TEST_CASE("a folder that cannot be read is found and the rest is scanned") {
    class Failing : public io::ForwardingFileSystem {
      public:
        using ForwardingFileSystem::ForwardingFileSystem;
        std::vector<io::DirectoryEntry> list(const io::Path& directory) override {
            if (directory.filename() == "large")
                throw Error(Cause::unreadable, "list the folder", directory.string(),
                            "input/output error");
            return ForwardingFileSystem::list(directory);
        }
    };
    const TempFolder folder;
    write_clean_job(folder);
    Failing files(io::posix_file_system());
    JobFolders folders;
    folders.job = folder.path();
    const Layout layout = job::scan_job(files, folders);
    check_only(layout, FindingKind::unreadable, "print/large", Severity::blocking);
    CHECK(layout.files.size() == 11);
}

TEST_CASE("sections can lie in other folders") {
    const TempFolder folder;
    folder.write("job/Originals/A.DNG", "a");
    folder.write("job/exports/final/A.jpg", "b");
    folder.write("job/Originals/bad/B.DNG", "c");
    folder.write("elsewhere/web/A.jpg", "d");
    JobFolders folders;
    folders.job = folder / "job";
    folders.usual[index(Section::print)] = "exports/final";
    folders.usual[index(Section::rejects)] = "Originals/bad";
    folders.given[index(Section::web)] = folder / "elsewhere/web";
    const Layout layout = job::scan_job(io::posix_file_system(), folders);
    CHECK(layout.findings.empty());
    REQUIRE(layout.files.size() == 4);
    CHECK(file(layout, "Originals/A.DNG").name == "data/originals/A.DNG");
    CHECK(file(layout, "exports/final/A.jpg").name == "data/print/A.jpg");
    CHECK(file(layout, "Originals/bad/B.DNG").section == Section::rejects);
    const std::string outside = (std::filesystem::canonical(folder / "elsewhere/web") / "A.jpg");
    CHECK(file(layout, outside).name == "data/web/A.jpg");
}

TEST_CASE("a job's own folder can be its originals") {
    const TempFolder folder;
    folder.write("A.DNG", "a");
    folder.write("web/A.jpg", "b");
    JobFolders folders;
    folders.job = folder.path();
    folders.given[index(Section::originals)] = folder.path();
    const Layout layout = job::scan_job(io::posix_file_system(), folders);
    CHECK(layout.findings.empty());
    CHECK(file(layout, "A.DNG").name == "data/originals/A.DNG");
    CHECK(file(layout, "web/A.jpg").section == Section::web);
}

TEST_CASE("folders that make no sense are errors") {
    const TempFolder folder;
    write_clean_job(folder);
    JobFolders folders;
    folders.job = folder.path();
    const auto cause = [&] {
        try {
            job::scan_job(io::posix_file_system(), folders);
        } catch (const Error& error) {
            return error.cause();
        }
        return Cause::other;
    };
    SECTION("no such job") {
        folders.job = folder / "nothing";
        CHECK(cause() == Cause::not_found);
    }
    SECTION("the job is a file") {
        folders.job = folder / "web/01.jpg";
        CHECK(cause() == Cause::not_found);
    }
    SECTION("a given folder is missing") {
        folders.given[index(Section::print)] = folder / "nothing";
        CHECK(cause() == Cause::not_found);
    }
    SECTION("two sections in one folder") {
        folders.given[index(Section::print)] = folder / "web";
        CHECK(cause() == Cause::usage);
    }
    SECTION("a section around the job") {
        folders.given[index(Section::originals)] = folder.path().parent_path();
        CHECK(cause() == Cause::usage);
    }
}

// The characters and device names are those of Microsoft's "Naming Files, Paths, and Namespaces";
// trailing dots and blanks from the same page; 255 units: exFAT, NTFS, HFS+; 255 bytes: ext4 (from
// memory).
TEST_CASE("names that cannot be kept everywhere") {
    for (const std::string& name : {"a\"b"s,
                                    "a*b"s,
                                    "a:b"s,
                                    "a<b"s,
                                    "a>b"s,
                                    "a?b"s,
                                    "a\\b"s,
                                    "a|b"s,
                                    "a\nb"s,
                                    "a\tb"s,
                                    "a\x7f"s,
                                    "a%20b"s,
                                    "end."s,
                                    "end "s,
                                    "CON"s,
                                    "con.jpg"s,
                                    "NUL.tar.gz"s,
                                    "com1"s,
                                    "LPT9.txt"s,
                                    "com\u00b2"s,
                                    "aux .jpg"s,
                                    "\xff\xfe"s,
                                    std::string(256, 'a')}) {
        CAPTURE(text::for_terminal(name));
        CHECK(job::not_portable(name));
    }
    std::string accents;
    for (int i = 0; i < 128; ++i)
        accents += "é";
    CHECK(job::not_portable(accents));
    for (const char* name :
         {"ABCD0001.JPG", "Ünlü 01.jpg", "été.tif", "console.jpg", "com10", "lpt", ".hidden",
          "a.b.c", "花.jpg", "😀.png", "a'b&c;d=e@f#g$h!i^j(k)[l]{m}~n`o+p,q"}) {
        CAPTURE(name);
        CHECK_FALSE(job::not_portable(name));
    }
}

TEST_CASE("roles follow section and extension") {
    CHECK(job::role_of(Section::originals, "a.dng") == Role::raw);
    CHECK(job::role_of(Section::rejects, "a.DNG") == Role::raw);
    CHECK(job::role_of(Section::originals, "a.jpg") == Role::picture);
    CHECK(job::role_of(Section::rejects, "a.jpg") == Role::proxy);
    CHECK(job::role_of(Section::rejects, "a.tif") == Role::picture);
    CHECK(job::role_of(Section::web, "a.XMP") == Role::sidecar);
    CHECK(job::role_of(Section::web, "a") == Role::other);
    CHECK(job::role_of(Section::originals, "a.THM") == Role::other);
    CHECK(job::role_of(Section::originals, "a.mov") == Role::other);
}

TEST_CASE("paths come apart") {
    CHECK(job::stem_of("a.b/c.d.JPG") == "a.b/c.d");
    CHECK(job::stem_of("a.b/c") == "a.b/c");
    CHECK(job::stem_of("a/.c") == "a/.c");
    CHECK(job::file_name_of("a/b/c") == "c");
    CHECK(job::file_name_of("c") == "c");
    CHECK(job::folder_of("a/b/c") == "a/b");
    CHECK(job::folder_of("c").empty());
}

TEST_CASE("the page about junk lists every name that is left out, and only those") {
    const std::string page = test::content_of(SOURCE_TREE "/docs/system-junk.md");
    const std::size_t folders = page.find("| folders |");
    REQUIRE(folders != std::string::npos);
    std::size_t names = 0;
    for (std::size_t begin = page.find('\n'); begin != std::string::npos;
         begin = page.find('\n', begin + 1)) {
        if (page.compare(begin + 1, 3, "| `") != 0) continue;
        const std::size_t cell = page.find(" |", begin + 2);
        std::size_t open = page.find('`', begin);
        while (open < cell) {
            const std::size_t close = page.find('`', open + 1);
            std::string name = page.substr(open + 1, close - open - 1);
            open = page.find('`', close + 1);
            if (name == "._…") continue;
            if (name.ends_with("…")) name.replace(name.size() - 3, 3, "1000");
            if (name.ends_with("\\r")) name.replace(name.size() - 2, 2, "\r");
            CAPTURE(name);
            CHECK(job::is_system_junk(name, begin > folders));
            CHECK_FALSE(job::is_system_junk(name, begin < folders));
            ++names;
        }
    }
    CHECK(names == 26);
}

TEST_CASE("unfinished files are known by their names") {
    for (const char* name : {"a.part", "a.jpg.PART", "~$notes.docx", ".~lock.list.ods#", "x.tmp",
                             ".goutputstream-AB12CD", ".0042.DNG.aB3dEf"}) {
        CAPTURE(name);
        CHECK(job::is_unfinished(name));
    }
    for (const char* name : {"part.jpg", "a.jpg", ".hidden.jpg", "spare.parts", "tmp", ".a.backup",
                             "0042.DNG.aB3dEf", "temp.dng"}) {
        CAPTURE(name);
        CHECK_FALSE(job::is_unfinished(name));
    }
}

#include "bag_builder.h"
#include "case_table.h"
#include "glassine/bagit/archive.h"

#include <cstdlib>

using namespace glassine;
using namespace glassine::test;

// Archives that Python's tarfile and zipfile wrote (write_archives.py), each with the rule that it
// keeps or breaks: draft-kunze-bagit-14 §4 (0.97), RFC 8493 §5, POSIX pax, PKWARE APPNOTE.
namespace {

struct ArchiveCase {
    const char* rule;
    const char* what;
    const char* file;
    Expect expect;
    const char* findings = "";  ///< words of all kinds found at `warning` or above
};

constexpr Expect valid = Expect::valid;
constexpr Expect warned = Expect::warned;
constexpr Expect invalid = Expect::invalid;

/// Written once for all cases.
const TempFolder& archives() {
    static const TempFolder folder;
    static const int written =
        std::system(("python3 -W ignore " SOURCE_TREE "/tests/bagit/write_archives.py '" +
                     folder.path().string() + "'")
                        .c_str());
    REQUIRE(written == 0);
    return folder;
}

bagit::BagReport check_archive(const std::string& file, const bagit::ArchiveLimits& limits = {}) {
    return bagit::check_archive(io::posix_file_system(), archives() / file, {}, limits);
}

void run(const ArchiveCase& c) {
    const bagit::BagReport report = check_archive(c.file);
    INFO(c.rule << ": " << c.what << " (" << c.file << ")\n" << described(report));
    compare(report, c.expect, c.findings);
}

}  // namespace

TEST_CASE("serialised bags in order") {
    for (const ArchiveCase& c : std::vector<ArchiveCase>{
             {"POSIX ustar", "the oldest common form", "ustar/bag.tar", valid},
             {"GNU tar", "its own form", "gnu/bag.tar", valid},
             {"POSIX pax", "the extended form", "pax/bag.tar", valid},
             {"0.97 §4", "gzip around tar", "tar.gz/bag.tar.gz", valid},
             {"0.97 §4", "the same by its short name", "tgz/bag.tgz", valid},
             {"0.97 §4", "bzip2 around tar", "tar.bz2/bag.tar.bz2", valid},
             {"0.97 §4", "xz around tar", "tar.xz/bag.tar.xz", valid},
             {"APPNOTE 4.4.5", "ZIP, stored", "stored/bag.zip", valid},
             {"APPNOTE 4.4.5", "ZIP, deflated", "deflated/bag.zip", valid},
             {"APPNOTE 4.3.9", "ZIP, stored, with data descriptors", "stream-stored/bag.zip",
              valid},
             {"APPNOTE 4.3.9", "ZIP, deflated, with data descriptors", "stream-deflated/bag.zip",
              valid},
             {"APPNOTE 4.5.3", "ZIP64", "zip64/bag.zip", valid},
             {"8493 §2.1.3-8", "long names, composed and decomposed letters, pax", "names/bag.tar",
              valid, "name-not-portable"},
             {"8493 §2.1.3-8", "the same in GNU's form", "names-gnu/bag.tar", valid,
              "name-not-portable"},
             {"8493 §2.1.3-8", "the same in gzip", "names-gz/bag.tar.gz", valid,
              "name-not-portable"},
             {"APPNOTE 4.4.4", "the same in ZIP, bit 11 set", "names-zip/bag.zip", valid,
              "name-not-portable"},
             {"APPNOTE 4.4.4", "the same, deflated", "names-deflated/bag.zip", valid,
              "name-not-portable"},
             {"0.97 §4-3", "packed as ./bag", "dotted/bag.tar", valid},
             {"0.97 §4-2", "an ending in capitals", "upper/BAG.TAR", valid},
             {"one pass", "manifests before the payload", "tags-first/bag.tar.gz", valid},
             {"one pass", "manifests behind it", "tags-last/bag.tar.gz", valid},
             {"one pass", "one before, one behind", "tags-split/bag.tar.gz", valid},
             {"8493 §2.1.3-11", "folders have members of their own, some twice", "folders/bag.tar",
              valid},
             {"0.97 §4-4", "archives inside data/ are payload", "nested/bag.tar", valid},
             {"POSIX ustar", "a hard link inside the bag", "hard-link/bag.tar", valid},
             {"POSIX ustar", "the same in gzip", "hard-link-gz/bag.tar.gz", valid},
             {"8493 §2.1.3-2", "an empty file", "empty-file/bag.tar", valid},
         }) {
        ArchiveCase expected = c;
        if (*c.findings != '\0') expected.expect = warned;
        run(expected);
    }
}

TEST_CASE("serialised bags that are discouraged") {
    for (const ArchiveCase& c : std::vector<ArchiveCase>{
             {"0.97 §4-2", "archive and bag are called differently", "other-name/renamed.tar",
              warned, "standard-discouraged"},
             {"0.97 §4-1", "a packer added a folder of its own", "packers-own/bag.zip", warned,
              "standard-discouraged"},
             {"8493 §2.4-5", "MD5 only", "weak/bag.tar.gz", warned,
              "algorithm-weak standard-discouraged"},
         })
        run(c);
}

TEST_CASE("serialised bags against the rules") {
    for (const ArchiveCase& c : std::vector<ArchiveCase>{
             {"0.97 §4-3", "packed from inside", "no-folder/bag.tar", invalid, "archive-malformed"},
             {"0.97 §4-3", "the same in ZIP", "no-folder-zip/bag.zip", invalid,
              "archive-malformed"},
             {"0.97 §4-1", "two bags", "two-bags/bag.tar", invalid, "archive-malformed"},
             {"0.97 §4-1", "a file beside the bag", "beside/bag.tar.gz", invalid,
              "archive-malformed"},
             {"0.97 §4-4", "data.tar.gz in the place of data/", "packed-data/bag.tar", invalid,
              "oxum-mismatch payload-directory-missing payload-missing tag-unlisted"},
             {"0.97 §4-1", "no bag at all", "no-bag/things.tar", invalid,
              "manifest-missing declaration-missing payload-directory-missing"},
             {"8493 §2.1.3-2", "a member twice", "twice/bag.tar", invalid, "archive-malformed"},
             {"8493 §2.1.3-2", "a member twice, written otherwise", "twice-gz/bag.tar.gz", invalid,
              "archive-malformed"},
             {"8493 §2.1.3-2", "a member twice in ZIP", "twice-zip/bag.zip", invalid,
              "archive-malformed"},
             {"APPNOTE 4.3.12", "two names for one file", "two-names/bag.zip", invalid,
              "archive-malformed"},
             {"8493 §5.1-1", "a symbolic link outward", "symlink/bag.tar", invalid,
              "special-file oxum-mismatch"},
             {"8493 §5.1-1", "a symbolic link inside", "symlink-gz/bag.tar.gz", invalid,
              "special-file oxum-mismatch"},
             {"8493 §5.1-1", "a hard link to an absolute path", "link-out--etc-hostname/bag.tar",
              invalid, "special-file payload-missing oxum-mismatch"},
             {"8493 §5.1-1", "a hard link upwards", "link-out-..-outside/bag.tar", invalid,
              "special-file payload-missing oxum-mismatch"},
             {"POSIX ustar", "a hard link to what is not there",
              "link-out-bag-data-later.txt/bag.tar", invalid,
              "special-file payload-missing oxum-mismatch"},
             {"0.97 §4-1", "a hard link beside the bag", "link-out-other-file/bag.tar", invalid,
              "special-file payload-missing oxum-mismatch"},
             {"POSIX ustar", "a hard link to itself", "link-to-itself/bag.tar", invalid,
              "special-file payload-missing oxum-mismatch"},
             {"8493 §5.1-1", "a pipe", "fifo/bag.tar", invalid, "special-file"},
             {"8493 §5.1-1", "a character device", "device/bag.tar", invalid, "special-file"},
             {"8493 §5.1-1", "a block device", "block/bag.tar", invalid, "special-file"},
             {"POSIX ustar", "a file with something below it", "file-as-folder/bag.tar", invalid,
              "archive-malformed payload-unlisted oxum-mismatch"},
             {"POSIX ustar", "a folder that is a file as well", "folder-as-file/bag.tar", invalid,
              "archive-malformed payload-unlisted oxum-mismatch"},
             {"8493 §3-7", "an altered file, tar", "altered-tar/bag.tar", invalid,
              "payload-altered"},
             {"8493 §3-7", "an altered file, ZIP", "altered-zip/bag.zip", invalid,
              "payload-altered"},
             {"8493 §3-7", "an altered file, gzip", "altered-gz/bag.tar.gz", invalid,
              "payload-altered"},
             {"8493 §3-7", "an altered file, deflated", "altered-deflated/bag.zip", invalid,
              "payload-altered"},
             {"8493 §3-7", "an altered tag file, tar", "tag-altered-tar/bag.tar", invalid,
              "tag-altered"},
             {"8493 §3-7", "an altered tag file, ZIP", "tag-altered-zip/bag.zip", invalid,
              "tag-altered"},
             {"8493 §3-3", "a missing file, tar", "missing-tar/bag.tar", invalid,
              "payload-missing oxum-mismatch"},
             {"8493 §3-3", "a missing file, ZIP", "missing-zip/bag.zip", invalid,
              "payload-missing oxum-mismatch"},
             {"8493 §3-4", "an unlisted file, tar", "unlisted-tar/bag.tar", invalid,
              "payload-unlisted oxum-mismatch"},
             {"8493 §3-4", "an unlisted file, ZIP", "unlisted-zip/bag.zip", invalid,
              "payload-unlisted oxum-mismatch"},
             {"8493 §3-3", "a moved file, gzip", "moved/bag.tar.gz", invalid, "payload-moved"},
         })
        run(c);
}

// The eight names of write_archives.py: absolute, upwards, home, drive letter, share, backslashes.
TEST_CASE("members that would lead out of the bag are left out and told") {
    for (int i = 0; i < 8; ++i)
        for (const std::string form : {"unsafe-", "unsafe-gz-", "unsafe-zip-"}) {
            const char* name = form == "unsafe-"      ? "/bag.tar"
                               : form == "unsafe-gz-" ? "/bag.tar.gz"
                                                      : "/bag.zip";
            const std::string file = form + std::to_string(i) + name;
            run({"8493 §5.1-1", "an unsafe member", file.c_str(), invalid, "path-unsafe"});
            // Nothing that it would have unpacked stands anywhere.
            CHECK_FALSE(std::filesystem::exists(archives() / (form + std::to_string(i) + "/evil")));
            CHECK_FALSE(std::filesystem::exists(archives() / "evil"));
        }
}

TEST_CASE("archives that are cut short or spoilt are told, whatever is left of them") {
    for (const std::string file :
         {"cut-half-pax/bag.tar", "cut-half-tar.gz/bag.tar.gz", "cut-half-stored/bag.zip",
          "cut-half-deflated/bag.zip", "cut-one-pax/bag.tar", "cut-one-tar.gz/bag.tar.gz",
          "cut-one-stored/bag.zip", "cut-one-deflated/bag.zip", "spoilt-zip/bag.zip",
          "encrypted/bag.zip"}) {
        const auto report = check_archive(file);
        INFO(file << ": " << described(report));
        CHECK(find(report, FindingKind::archive_malformed));
        CHECK_FALSE(report.complete);
        CHECK(report.valid == false);
        CHECK(report.holds_bag);
    }
    // gzip's own check value is not looked at: the digests notice.
    CHECK(check_archive("spoilt-gz/bag.tar.gz").valid == false);
}

TEST_CASE("a file that is no archive is told with one finding") {
    for (const std::string word : {"empty-", "noise-"})
        for (const std::string file : {"pax/bag.tar", "tar.gz/bag.tar.gz", "stored/bag.zip"}) {
            const auto report = check_archive(word + file);
            INFO(word << file << ": " << described(report));
            REQUIRE(report.findings.size() == 1);
            CHECK(report.findings[0].kind == FindingKind::archive_malformed);
            CHECK(report.valid == false);
        }
}

TEST_CASE("an archive without a bag says so") {
    CHECK_FALSE(check_archive("no-bag/things.tar").holds_bag);
    CHECK(check_archive("pax/bag.tar").holds_bag);
}

// Every byte of small archives flipped in turn: nothing crashes, and what is called valid holds the
// right bytes (a flip may hit an owner's name or a time, which no digest covers).
TEST_CASE("archives flipped at every byte") {
    for (const std::string file : {"ustar/bag.tar", "tar.gz/bag.tar.gz", "deflated/bag.zip"}) {
        const std::string good = content_of(archives() / file);
        const TempFolder folder;
        const std::size_t step = 1 + good.size() / 400;
        for (std::size_t at = 0; at < good.size(); at += step) {
            std::string bad = good;
            bad[at] = static_cast<char>(bad[at] ^ 0x41);
            const auto path = folder / std::filesystem::path(file).filename().string();
            write_file(path, bad);
            const auto report = bagit::check_archive(io::posix_file_system(), path, {});
            if (report.valid == true) CHECK(report.bytes == 3003);
        }
    }
}

TEST_CASE("archives cut at every length") {
    for (const std::string file : {"ustar/bag.tar", "stored/bag.zip", "tar.gz/bag.tar.gz"}) {
        const std::string good = content_of(archives() / file);
        const TempFolder folder;
        const auto path = folder / std::filesystem::path(file).filename().string();
        const std::size_t step = 1 + good.size() / 200;
        for (std::size_t length = 0; length < good.size(); length += step) {
            write_file(path, good.substr(0, length));
            const auto report = bagit::check_archive(io::posix_file_system(), path, {});
            INFO(file << " " << length << " of " << good.size() << "\n" << described(report));
            // tar's last blocks and a gzip trailer hold nothing of the bag.
            if (report.valid == true) CHECK(report.bytes == 3003);
        }
    }
}

// Issue: decompression bombs are bounded by the sizes that the bag itself declares, and by a limit.
TEST_CASE("an archive that unpacks to more than it may is not followed") {
    bagit::ArchiveLimits small;
    small.always = 1u << 20;
    for (const std::string file :
         {"bomb/bag.tar.gz", "bomb-first/bag.tar.gz", "bomb-zip/bag.zip"}) {
        const auto report = check_archive(file, small);
        INFO(file << ": " << described(report));
        CHECK(find(report, FindingKind::archive_limit));
        CHECK_FALSE(report.complete);
        CHECK(report.valid == false);
    }
    CHECK_FALSE(find(check_archive("bomb/bag.tar.gz"), FindingKind::archive_limit));
}

TEST_CASE("a flood of members, and lists without end") {
    bagit::ArchiveLimits few;
    few.members = 100;
    for (const std::string file : {"flood/bag.tar", "flood-gz/bag.tar.gz"}) {
        const auto report = check_archive(file, few);
        INFO(file << ": " << described(report));
        CHECK(find(report, FindingKind::archive_limit));
        CHECK(report.files < 110);
        CHECK(report.valid == false);
    }
    bagit::ArchiveLimits little;
    little.tag_bytes = 100'000;
    const auto report = check_archive("large-tags/bag.tar.gz", little);
    CHECK(find(report, FindingKind::archive_limit));
    CHECK(report.valid == false);
}

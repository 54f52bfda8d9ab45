#include "case_table.h"

using namespace glassine::test;
using enum Expect;

namespace {

/// The payload manifest with its first path replaced by what stands here.
auto path(std::string written) {
    return [written = std::move(written)](BagBuilder& b) {
        replace(b.manifest(), "data/one.txt", written);
    };
}

/// A payload file of this name, listed under `written`.
auto file(std::string name, std::string written) {
    return [name = std::move(name), written = std::move(written)](BagBuilder& b) {
        b.files["data/" + name] = "x";
        b.manifest() += BagBuilder::hex(b.payload_algorithms[0], "x") + "  data/" + written + "\n";
    };
}

}  // namespace

/// RFC 8493 §2.1.3-10, §5.1, §6.1: paths in manifests.
TEST_CASE("paths, rule by rule") {
    run_all({
        {"8493 §2.1.3-10", "a percent sign, encoded", valid, "", "1.0", file("a%b", "a%25b")},
        {"8493 §2.1.3-10", "a percent sign that looks encoded", valid, "", "1.0",
         file("100%25.txt", "100%2525.txt")},
        {"8493 §2.1.3-10", "a line feed, encoded", warned, "name-not-portable", "1.0",
         file("a\nb", "a%0Ab")},
        {"8493 §2.1.3-10", "a carriage return, encoded in lower case", warned, "name-not-portable",
         "1.0", file("a\rb", "a%0db")},
        {"8493 §2.1.3-10", "both", warned, "name-not-portable", "1.0", file("a\r\nb", "a%0D%0Ab")},
        {"8493 §2.1.3-10", "a percent sign that is not encoded", invalid, "path-form", "1.0",
         file("a%b", "a%b")},
        {"8493 §2.1.3-10", "a blank that is encoded", invalid, "path-form payload-moved", "1.0",
         file("a b", "a%20b")},
        {"0.97 table", "a percent sign is a percent sign", valid, "", "0.97",
         file("a%25b", "a%25b")},
        {"0.97 table", "no decoding before 1.0", invalid, "payload-moved", "0.97",
         file("a%b", "a%25b")},
        {"8493 §2.1.3-8", "blanks in a name", valid, "", "1.0", file("a  b c", "a  b c")},
        {"8493 §3", "a blank at the end of a name belongs to it", warned, "name-not-portable",
         "1.0", file("a ", "a ")},
        {"8493 §2.1.3", "letters beyond ASCII", valid, "", "1.0",
         file("Nu\u0301n\u0303ez.jpg", "Nu\u0301n\u0303ez.jpg")},
        {"8493 §2.1.3", "star, hash and backslash in a name", warned, "name-not-portable", "1.0",
         file("a*#\\b", "a*#\\b")},
        {"8493 §6", "./ before a path", warned, "path-form", "1.0", path("./data/one.txt")},
        {"8493 §6", "./ inside a path", warned, "path-form", "1.0", path("data/./one.txt")},
        {"8493 §6", "a doubled slash", warned, "path-form", "0.97", path("data//one.txt")},
        {"8493 §6.1.3-2", "the star of a checksum tool", invalid, "path-form", "1.0",
         path("*data/one.txt")},
        {"0.97 table", "the star of a checksum tool", valid, "", "0.97", path("*data/one.txt")},
        {"0.96 table", "the star of a checksum tool, which the last draft allows", valid, "",
         "0.96", path("*data/one.txt")},
        {"0.95 table", "the star of a checksum tool, not foreseen", warned, "path-form", "0.95",
         path("*data/one.txt")},
        {"8493 §6.1.3-2", "star and ./", invalid, "path-form", "1.0", path("*./data/one.txt")},
        {"8493 §7", "the backslash escape of a checksum tool", invalid,
         "path-form name-not-portable", "1.0",
         [](BagBuilder& b) {
             b.files["data/a\\b"] = "x";
             b.manifest() +=
                 "\\" + BagBuilder::hex(b.payload_algorithms[0], "x") + "  data/a\\\\b\n";
         }},
        {"8493 §2.1.3-6", "backslashes between the parts", invalid, "path-form", "1.0",
         path("data\\one.txt")},
        {"8493 §2.1.3-6", "a backslash between deeper parts", invalid, "path-form", "0.96",
         [](BagBuilder& b) { replace(b.manifest(), "data/two/two", "data/two\\two"); }},
        {"0.95 table", "backslashes between the parts are not forbidden yet", warned, "path-form",
         "0.95", path("data\\one.txt")},
        {"8493 §5.1-1", "upwards", invalid, "path-unsafe payload-unlisted", "1.0",
         path("../../../../etc/passwd")},
        {"8493 §5.1-1", "upwards from data/", invalid, "path-unsafe payload-unlisted", "1.0",
         path("data/../../outside.txt")},
        {"8493 §5.1-1", "upwards and back into the bag", invalid, "path-unsafe payload-unlisted",
         "1.0", path("data/../data/one.txt")},
        {"8493 §5.1-1", "absolute", invalid, "path-unsafe payload-unlisted", "1.0",
         path("/etc/passwd")},
        {"8493 §5.1-1", "absolute in 0.97", invalid, "path-unsafe payload-unlisted", "0.97",
         path("/data/one.txt")},
        {"8493 §5.1-1", "a home folder", invalid, "path-unsafe payload-unlisted", "1.0",
         path("~/one.txt")},
        {"8493 §5.1-1", "another's home folder", invalid, "path-unsafe payload-unlisted", "1.0",
         path("~root/one.txt")},
        {"8493 §5.1-3", "a drive letter", invalid, "path-unsafe payload-unlisted", "1.0",
         path("C:\\data\\one.txt")},
        {"8493 §5.1-3", "a drive letter with slashes", invalid, "path-unsafe payload-unlisted",
         "1.0", path("c:/data/one.txt")},
        {"8493 §5.1-3", "a namespace prefix", invalid, "path-unsafe payload-unlisted", "1.0",
         path("\\\\?\\C:\\data\\one.txt")},
        {"8493 §5.1-3", "a share", invalid, "path-unsafe payload-unlisted", "1.0",
         path("\\\\server\\share\\one.txt")},
        {"8493 §5.1", "upwards with backslashes", invalid, "path-unsafe payload-unlisted", "1.0",
         path("data\\..\\..\\one.txt")},
        {"8493 §5.1", "upwards with both", invalid, "path-unsafe payload-unlisted", "1.0",
         path("data/..\\one.txt")},
        {"8493 §5.1", "a NUL byte", invalid, "path-unsafe payload-unlisted", "1.0",
         path(std::string("data/one.txt\0.jpg", 17))},
        {"8493 §5.1", "an encoded NUL byte is no escape", invalid,
         "path-form payload-missing payload-unlisted", "1.0",
         [](BagBuilder& b) {
             replace(b.manifest(), "data/one.txt", "data/one%00.txt");
             b.files["data/one.txt"] = "moved and altered";
         }},
        {"8493 §2.3-5", "bytes that are no UTF-8", invalid, "manifest-malformed name-not-portable",
         "1.0", file("a\xFF", "a\xFF")},
        {"8493 §2.1.3", "a dot file", valid, "", "1.0", file(".keep", ".keep")},
        {"8493 §2.1.3", "two dots at the beginning of a name", valid, "", "1.0",
         file("..two", "..two")},
        {"8493 §2.1.3", "three dots", warned, "name-not-portable", "1.0", file("...", "...")},
        {"8493 §6.1", "a name that Windows keeps for a device", warned, "name-not-portable", "1.0",
         file("AUX.jpg", "AUX.jpg")},
        {"8493 §6.1", "a character that Windows forbids", warned, "name-not-portable", "1.0",
         file("12:30.jpg", "12:30.jpg")},
        {"8493 §6.1", "a path of more than 255 characters", warned, "name-not-portable", "1.0",
         file(std::string(150, 'a') + "/" + std::string(150, 'b'),
              std::string(150, 'a') + "/" + std::string(150, 'b'))},
        {"8493 §6.1.1.3-1", "names that differ only in case", warned, "name-collision", "1.0",
         file("ONE.txt", "ONE.txt")},
        {"8493 §6.1.1.3-2", "names that differ only in normalisation", warned, "name-collision",
         "1.0",
         [](BagBuilder& b) {
             b.files["data/\u00e9.jpg"] = "1";
             b.files["data/e\u0301.jpg"] = "2";
             b.list();
         }},
        {"8493 §6.1.1.3-3", "NFC in the manifest, NFD on the disk", warned, "name-normalised",
         "1.0", file("Nu\u0301n\u0303ez.jpg", "N\u00fa\u00f1ez.jpg")},
        {"8493 §6.1.1.3-3", "NFD in the manifest, NFC on the disk", warned, "name-normalised",
         "0.97", file("N\u00fa\u00f1ez.jpg", "Nu\u0301n\u0303ez.jpg")},
        {"8493 §6.1.1.3-3", "matched and altered", invalid, "name-normalised payload-altered",
         "1.0",
         [](BagBuilder& b) {
             file("Nu\u0301n\u0303ez.jpg", "N\u00fa\u00f1ez.jpg")(b);
             b.files["data/Nu\u0301n\u0303ez.jpg"] = "y";
         }},
    });
}

#include "case_table.h"

using namespace glassine::test;
using glassine::digest::Algorithm;
using enum Expect;

namespace {

std::string& tags(BagBuilder& b) {
    return b.files.at("tagmanifest-sha512.txt");
}

/// Without the line for one file.
void drop(std::string& text, const std::string& path) {
    const std::size_t at = text.find("  " + path + "\n");
    REQUIRE(at != std::string::npos);
    const std::size_t begin = text.rfind('\n', at) + 1;
    text.erase(begin, text.find('\n', at) + 1 - begin);
}

auto fetch(std::string text) {
    return [text = std::move(text)](BagBuilder& b) { b.files["fetch.txt"] = text; };
}

constexpr bool as_it_is = false;

}  // namespace

/// RFC 8493 §2.2.1 and §2.2.4: tag manifests and other tag files.
TEST_CASE("tag manifests, rule by rule") {
    run_all({
        {"8493 §2.2.1-1", "no tag manifest", valid, "", "1.0",
         [](BagBuilder& b) { b.files.erase("tagmanifest-sha512.txt"); }, as_it_is},
        {"8493 §2.2.1-2", "the payload manifest is not listed", invalid, "tag-unlisted", "1.0",
         [](BagBuilder& b) { drop(tags(b), "manifest-sha512.txt"); }, as_it_is},
        {"0.97 table", "the payload manifest need not be listed", valid, "", "0.97",
         [](BagBuilder& b) { drop(tags(b), "manifest-sha512.txt"); }, as_it_is},
        {"8493 §2.2.1-4", "another tag file is not listed", warned, "tag-unlisted", "1.0",
         [](BagBuilder& b) { b.files["notes.txt"] = "x"; }, as_it_is},
        {"0.97 table", "another tag file need not be listed", valid, "", "0.97",
         [](BagBuilder& b) { b.files["notes.txt"] = "x"; }, as_it_is},
        {"8493 §2.2.1-3", "a tag manifest that lists itself", invalid, "manifest-malformed", "1.0",
         [](BagBuilder& b) { tags(b) += std::string(128, '0') + "  tagmanifest-sha512.txt\n"; },
         as_it_is},
        {"8493 §2.2.1-3", "a tag manifest that lists another", invalid,
         "manifest-malformed standard-discouraged", "1.0",
         [](BagBuilder& b) {
             b.tag_algorithms = {Algorithm::md5};
             b.prove();
             tags(b) += b.line("tagmanifest-md5.txt");
         },
         as_it_is},
        {"0.97 table", "a tag manifest that lists another", warned, "manifest-malformed", "0.97",
         [](BagBuilder& b) {
             b.tag_algorithms = {Algorithm::md5};
             b.prove();
             tags(b) += b.line("tagmanifest-md5.txt");
         },
         as_it_is},
        {"8493 §2.2.1-7", "a payload file in a tag manifest", invalid, "manifest-malformed", "1.0",
         [](BagBuilder& b) { tags(b) += b.line("data/one.txt"); }, as_it_is},
        {"0.97 table", "a payload file in a tag manifest", warned, "manifest-malformed", "0.97",
         [](BagBuilder& b) { tags(b) += b.line("data/one.txt"); }, as_it_is},
        {"8493 §2.2.1-6", "an algorithm that no payload manifest uses", warned,
         "standard-discouraged", "1.0",
         [](BagBuilder& b) {
             b.files.erase("tagmanifest-sha512.txt");
             b.tag_algorithms = {Algorithm::sha256};
         }},
        {"8493 §2.2.1-1", "two tag manifests that list different files", warned,
         "manifests-disagree standard-discouraged", "1.0",
         [](BagBuilder& b) {
             b.tag_algorithms = {Algorithm::sha256, Algorithm::sha512};
             b.prove();
             drop(tags(b), "bag-info.txt");
         },
         as_it_is},
        {"8493 §3-2", "a listed tag file is not there", invalid, "tag-missing", "1.0",
         [](BagBuilder& b) { b.files.erase("bag-info.txt"); }, as_it_is},
        {"8493 §3-7", "an altered bag-info.txt", invalid, "tag-altered", "1.0",
         [](BagBuilder& b) { b.info() += "A: b\n"; }, as_it_is},
        {"8493 §3-7", "an altered bagit.txt", invalid, "tag-altered", "1.0",
         [](BagBuilder& b) { replace(b.files["bagit.txt"], "\n", "\r\n"); }, as_it_is},
        {"8493 §3-7", "an altered payload manifest", invalid, "tag-altered", "1.0",
         [](BagBuilder& b) { replace(b.manifest(), "  ", " "); }, as_it_is},
        {"8493 §2.2.4-2", "an altered file in a tag folder", invalid, "tag-altered", "1.0",
         [](BagBuilder& b) {
             b.files["notes/a.xml"] = "a";
             b.prove();
             b.files["notes/a.xml"] = "b";
         },
         as_it_is},
        {"8493 §2-1", "tag folders", valid, "", "1.0",
         [](BagBuilder& b) { b.files["notes/deeper/a.xml"] = "a"; }},
        {"0.97 table", "tag folders", valid, "", "0.97",
         [](BagBuilder& b) { b.files["notes/a.xml"] = "a"; }},
        {"0.96 table", "tag folders, which only the last draft forbids", valid, "", "0.96",
         [](BagBuilder& b) { b.files["notes/a.txt"] = "a"; }},
        {"0.95 table", "tag folders are not foreseen", warned, "standard-discouraged", "0.95",
         [](BagBuilder& b) { b.files["notes/a.txt"] = "a"; }},
        {"8493 §2.2.4-2", "what other tag files hold is ignored", valid, "", "1.0",
         [](BagBuilder& b) { b.files["junk.txt"] = std::string("\0\xFF\xFE\r", 4); }},
        {"8493 §2-2", "a bag in a bag", valid, "", "1.0",
         [](BagBuilder& b) {
             for (const auto& [path, content] : BagBuilder::of("1.0").files)
                 b.files["data/inner/" + path] = content;
             b.list();
         }},
        {"0.94 table", "the checksum of a tag file beside it", valid, "", "0.94",
         [](BagBuilder& b) {
             b.files["package-info.txt.md5"] =
                 BagBuilder::hex(Algorithm::md5, b.files["package-info.txt"]) + "\n";
         }},
        {"0.94 table", "the checksum of an altered tag file", invalid, "tag-altered", "0.94",
         [](BagBuilder& b) {
             b.files["manifest-sha512.txt.sha1"] =
                 BagBuilder::hex(Algorithm::sha1, "something else") + " manifest-sha512.txt\n";
         }},
        {"0.94 table", "a checksum file without a checksum", invalid, "tag-malformed", "0.94",
         [](BagBuilder& b) { b.files["package-info.txt.md5"] = "none\n"; }},
        {"0.95 table", "the same file means nothing from 0.95 on", valid, "", "0.95",
         [](BagBuilder& b) { b.files["package-info.txt.md5"] = "none\n"; }},
    });
}

/// RFC 8493 §2.2.3: fetch.txt.
TEST_CASE("fetch.txt, rule by rule") {
    const std::string url = "https://example.org/one.txt";
    run_all({
        {"8493 §2.2.3-1", "the file is there already", valid, "", "1.0",
         fetch(url + " 3 data/one.txt\n")},
        {"8493 §2.2.3-5", "a length that is not known", valid, "", "1.0",
         fetch(url + " - data/one.txt\n")},
        {"8493 §2.2.3-6", "tabs and runs of blanks", valid, "", "1.0",
         fetch(url + "\t 3 \t data/one.txt\n")},
        {"8493 §11", "the file is there in another size", warned, "fetch-malformed", "1.0",
         fetch(url + " 4 data/one.txt\n")},
        {"8493 §3-3", "a file still to be fetched", invalid, "fetch-pending", "1.0",
         [=](BagBuilder& b) {
             b.files.erase("data/one.txt");
             b.files["fetch.txt"] = url + " 3 data/one.txt\n";
             b.info() += "Payload-Oxum: 6.2\n";
         }},
        {"0.97 table", "a file still to be fetched", invalid, "fetch-pending", "0.97",
         [=](BagBuilder& b) {
             b.files.erase("data/one.txt");
             b.files["fetch.txt"] = url + " 3 data/one.txt\n";
         }},
        {"0.97 table", "a leading slash means the bag", invalid, "fetch-pending", "0.97",
         [=](BagBuilder& b) {
             b.files.erase("data/one.txt");
             b.files["fetch.txt"] = url + " 3 /data/one.txt\n";
         }},
        {"8493 §5.1-1", "a leading slash", invalid, "path-unsafe", "1.0",
         fetch(url + " 3 /data/one.txt\n")},
        {"8493 §2.2.3-3", "a file that the manifest does not list", invalid, "fetch-malformed",
         "1.0", fetch(url + " 3 data/other.txt\n")},
        {"0.97 table", "a file that the manifest does not list", warned, "fetch-malformed", "0.97",
         fetch(url + " 3 data/other.txt\n")},
        {"8493 §2.2.3-4", "a tag file", invalid, "fetch-malformed", "1.0",
         fetch(url + " 3 bag-info.txt\n")},
        {"8493 §2.2.3-5", "a URL that is not absolute", invalid, "fetch-malformed", "1.0",
         fetch("one.txt 3 data/one.txt\n")},
        {"8493 §2.2.3-5", "a length that is no number", invalid, "fetch-malformed", "1.0",
         fetch(url + " 3kB data/one.txt\n")},
        {"8493 §2.2.3-5", "a negative length", invalid, "fetch-malformed", "1.0",
         fetch(url + " -3 data/one.txt\n")},
        {"8493 §2.2.3-5", "a field is missing", invalid, "fetch-malformed", "1.0",
         fetch(url + " data/one.txt\n")},
        {"8493 §2.2.3-5", "an empty line", invalid, "fetch-malformed", "1.0",
         fetch(url + " 3 data/one.txt\n\n")},
        {"8493 §2.2.3-7", "a percent sign in the path", valid, "", "1.0",
         [=](BagBuilder& b) {
             b.files["data/a%b"] = "x";
             b.list();
             b.files["fetch.txt"] = url + " 1 data/a%25b\n";
         }},
        {"8493 §5.1-1", "upwards", invalid, "path-unsafe", "1.0",
         fetch("file:///etc/passwd - data/../../../etc/cron.d/x\n")},
        {"8493 §2.2.3", "listed twice", warned, "fetch-malformed", "1.0",
         fetch(url + " 3 data/one.txt\n" + url + " 3 data/one.txt\n")},
        {"8493 §11", "an empty fetch.txt", valid, "", "1.0", fetch("")},
    });
}

#include "case_table.h"

using namespace glassine::test;
using glassine::digest::Algorithm;
using enum Expect;

namespace {

auto manifest(std::function<void(std::string&)> change) {
    return [change = std::move(change)](BagBuilder& b) { change(b.manifest()); };
}

auto replaced(std::string what, std::string by) {
    return manifest([=](std::string& text) { replace(text, what, by); });
}

auto algorithms(std::vector<Algorithm> payload, std::vector<Algorithm> tag) {
    return [=](BagBuilder& b) {
        b.files.erase("manifest-sha512.txt");
        b.files.erase("tagmanifest-sha512.txt");
        b.payload_algorithms = payload;
        b.tag_algorithms = tag;
        b.seal();
    };
}

std::string upper(std::string text) {
    for (char& c : text)
        if (c >= 'a' && c <= 'f') c = static_cast<char>(c - 'a' + 'A');
    return text;
}

}  // namespace

/// RFC 8493 §2.1.3, §2.4 and §3: payload manifests.
TEST_CASE("payload manifests, rule by rule") {
    run_all({
        {"8493 §3-6", "a bag in order", valid, "", "1.0", nullptr},
        {"8493 §2.1.3-1", "no payload manifest", invalid, "manifest-missing", "1.0",
         [](BagBuilder& b) { b.files.erase("manifest-sha512.txt"); }},
        {"8493 §2.1.3-1", "two manifests in two algorithms", valid, "", "1.0",
         algorithms({Algorithm::sha256, Algorithm::sha512},
                    {Algorithm::sha256, Algorithm::sha512})},
        {"8493 §2.4-2", "every algorithm that is computed", valid, "", "1.0",
         algorithms({Algorithm::md5, Algorithm::sha1, Algorithm::sha224, Algorithm::sha256,
                     Algorithm::sha384, Algorithm::sha512},
                    {Algorithm::sha512})},
        {"8493 §2.4-5", "only MD5", warned, "algorithm-weak", "1.0",
         algorithms({Algorithm::md5}, {Algorithm::md5})},
        {"8493 §2.4-5", "only MD5 and SHA-1", warned, "algorithm-weak", "1.0",
         algorithms({Algorithm::md5, Algorithm::sha1}, {Algorithm::md5})},
        {"0.97 table", "only MD5", valid, "", "0.97",
         algorithms({Algorithm::md5}, {Algorithm::md5})},
        {"8493 §2.4-3", "the algorithm's name is not normalised", invalid, "manifest-malformed",
         "1.0",
         [](BagBuilder& b) {
             b.files["manifest-SHA-512.txt"] = b.manifest();
             b.files.erase("manifest-sha512.txt");
         }},
        {"8493 §11", "two manifests that normalise to one algorithm", invalid,
         "manifest-malformed manifest-duplicate", "1.0",
         [](BagBuilder& b) { b.files["manifest-SHA512-.txt"] = b.manifest(); }},
        {"0.97 table", "two manifests that normalise to one algorithm", invalid,
         "manifest-malformed manifest-duplicate", "0.97",
         [](BagBuilder& b) { b.files["manifest-SHA-512.txt"] = b.manifest(); }},
        {"8493 §11", "an algorithm nobody knows", invalid, "algorithm-unknown", "1.0",
         [](BagBuilder& b) {
             b.files["manifest-crc999.txt"] = "00aa  data/one.txt\n00bb  data/two/two.txt\n";
         }},
        {"8493 §11", "an unknown algorithm: the rest is checked", invalid,
         "algorithm-unknown payload-altered", "1.0",
         [](BagBuilder& b) {
             b.files["manifest-crc999.txt"] = "00aa  data/one.txt\n00bb  data/two/two.txt\n";
             b.files["data/one.txt"] = "One";
         }},
        {"8493 §2.1.3-4", "an unknown algorithm's checksum that is not hex", invalid,
         "algorithm-unknown manifest-malformed", "1.0",
         [](BagBuilder& b) {
             b.files["manifest-crc999.txt"] = "zz  data/one.txt\n00bb  data/two/two.txt\n";
         }},
        {"8493 §2.1.3-5", "upper-case hex", valid, "", "1.0",
         manifest([](std::string& t) { t = upper(t.substr(0, 128)) + t.substr(128); })},
        {"8493 §2.1.3-5", "mixed case", valid, "", "1.0",
         manifest([](std::string& t) { t = upper(t.substr(0, 60)) + t.substr(60); })},
        {"8493 §2.1.3-7", "one blank", valid, "", "1.0", replaced("  data/one", " data/one")},
        {"8493 §2.1.3-7", "a tab", valid, "", "1.0", replaced("  data/one", "\tdata/one")},
        {"8493 §2.1.3-7", "a run of blanks and tabs", valid, "", "1.0",
         replaced("  data/one", " \t \t  data/one")},
        {"8493 §2.1.3-7", "nothing between checksum and path", invalid,
         "manifest-malformed payload-unlisted", "1.0", replaced("  data/one", "data/one")},
        {"8493 §2.1.3-4", "a blank before the checksum", invalid, "manifest-malformed", "1.0",
         manifest([](std::string& t) { t.insert(0, " "); })},
        {"8493 §2.1.3-4", "path before checksum", invalid, "manifest-malformed payload-unlisted",
         "1.0",
         [](BagBuilder& b) {
             b.manifest() = "data/one.txt  " + BagBuilder::hex(Algorithm::sha512, "one") + "\n" +
                            b.line("data/two/two.txt");
         }},
        {"8493 §2.1.3-4", "an empty line", invalid, "manifest-malformed", "1.0",
         manifest([](std::string& t) { t += "\n"; })},
        {"0.97 table", "an empty line", warned, "manifest-malformed", "0.97",
         manifest([](std::string& t) { t += "\n"; })},
        {"8493 §2.1.3-4", "a comment", invalid, "manifest-malformed", "1.0",
         manifest([](std::string& t) { t.insert(0, "# by hand\n"); })},
        {"8493 §2.1.3-4", "a checksum without a path", invalid, "manifest-malformed", "1.0",
         manifest([](std::string& t) { t += std::string(128, '0') + "\n"; })},
        {"8493 §11", "hex of the wrong length", invalid, "manifest-malformed", "1.0",
         [](BagBuilder& b) {
             b.manifest() = BagBuilder::hex(Algorithm::sha256, "one") + "  data/one.txt\n" +
                            b.line("data/two/two.txt");
         }},
        {"8493 §2.1.3-4", "a letter that is no hex digit", invalid, "manifest-malformed", "1.0",
         manifest([](std::string& t) { t[5] = 'g'; })},
        {"8493 §2.3-2", "CRLF line ends", valid, "", "1.0", manifest([](std::string& t) {
             replace(t, "\n", "\r\n");
             t.insert(t.size() - 1, "\r");
         })},
        {"8493 §2.3-2", "CR line ends", valid, "", "1.0",
         manifest([](std::string& t) { std::ranges::replace(t, '\n', '\r'); })},
        {"8493 §2.3-3", "no last line end", warned, "standard-discouraged", "1.0",
         manifest([](std::string& t) { t.pop_back(); })},
        {"8493 §2.3-7", "byte order mark", invalid, "manifest-malformed", "1.0",
         manifest([](std::string& t) { t.insert(0, "\xEF\xBB\xBF"); })},
        {"8493 §2.1.3-2", "listed twice with the same checksum", invalid, "manifest-duplicate",
         "1.0", [](BagBuilder& b) { b.manifest() += b.line("data/one.txt"); }},
        {"0.97 table", "listed twice with the same checksum", warned, "manifest-duplicate", "0.97",
         [](BagBuilder& b) { b.manifest() += b.line("data/one.txt"); }},
        {"8493 §2.1.3-2", "listed twice with different checksums", invalid, "manifest-duplicate",
         "1.0", manifest([](std::string& t) { t += std::string(128, '0') + "  data/one.txt\n"; })},
        {"0.97 table", "listed twice with different checksums", invalid, "manifest-duplicate",
         "0.97", manifest([](std::string& t) { t += std::string(128, '0') + "  data/one.txt\n"; })},
        {"8493 §2.1.3-2", "listed twice and agreeing with neither", invalid,
         "manifest-duplicate payload-altered", "1.0",
         [](BagBuilder& b) {
             b.manifest() += std::string(128, '0') + "  data/one.txt\n";
             b.files["data/one.txt"] = "One";
         }},
        {"8493 §2.1.3-2", "listed twice, once as ./", invalid, "manifest-duplicate path-form",
         "1.0",
         [](BagBuilder& b) {
             std::string line = b.line("data/one.txt");
             replace(line, "data/", "./data/");
             b.manifest() += line;
         }},
        {"8493 §2.1.3-2", "one manifest does not list a file", invalid, "manifests-disagree", "1.0",
         [](BagBuilder& b) {
             b.files["manifest-md5.txt"] = b.line(Algorithm::md5, "data/one.txt");
         }},
        {"0.97 table", "the union of the manifests counts", valid, "", "0.97",
         [](BagBuilder& b) {
             b.manifest() = b.line("data/two/two.txt");
             b.files["manifest-md5.txt"] = b.line(Algorithm::md5, "data/one.txt");
         }},
        {"0.95 table", "the union of the manifests counts", valid, "", "0.95",
         [](BagBuilder& b) {
             b.manifest() = b.line("data/two/two.txt");
             b.files["manifest-md5.txt"] = b.line(Algorithm::md5, "data/one.txt");
         }},
        {"0.94 table", "every manifest lists every file", invalid, "manifests-disagree", "0.94",
         [](BagBuilder& b) {
             b.files["manifest-md5.txt"] = b.line(Algorithm::md5, "data/one.txt");
         }},
        {"8493 §3-4", "a file that no manifest lists", invalid, "payload-unlisted", "1.0",
         [](BagBuilder& b) { b.files["data/stray.txt"] = "stray"; }},
        {"8493 §3-3", "a listed file is not there", invalid, "payload-missing", "1.0",
         [](BagBuilder& b) { b.files.erase("data/one.txt"); }},
        {"8493 §3-7", "an altered file", invalid, "payload-altered", "1.0",
         [](BagBuilder& b) { b.files["data/one.txt"] = "0ne"; }},
        {"8493 §3-3", "a file under another name", invalid, "payload-moved", "1.0",
         [](BagBuilder& b) {
             b.files["data/three.txt"] = b.files["data/one.txt"];
             b.files.erase("data/one.txt");
         }},
        {"8493 §3-3", "a file in another folder", invalid, "payload-moved", "0.97",
         [](BagBuilder& b) {
             b.files["data/deeper/one.txt"] = b.files["data/one.txt"];
             b.files.erase("data/one.txt");
         }},
        {"8493 §3-3", "a name in other case", invalid, "payload-moved", "1.0",
         [](BagBuilder& b) {
             b.files["data/ONE.TXT"] = b.files["data/one.txt"];
             b.files.erase("data/one.txt");
         }},
        {"8493 §2.1.3-9", "a tag file in a payload manifest", invalid, "manifest-malformed", "1.0",
         [](BagBuilder& b) { b.manifest() += b.line("bag-info.txt"); }},
        {"0.97 table", "a tag file in a payload manifest", invalid, "manifest-malformed", "0.97",
         [](BagBuilder& b) { b.manifest() += b.line("bag-info.txt"); }},
        {"0.96 table", "a tag file in a payload manifest", warned, "manifest-malformed", "0.96",
         [](BagBuilder& b) { b.manifest() += b.line("bag-info.txt"); }},
        {"0.95 table", "a tag file in a payload manifest", warned, "manifest-malformed", "0.95",
         [](BagBuilder& b) { b.manifest() += b.line("package-info.txt"); }},
        {"0.94 table", "a tag file in a payload manifest", valid, "", "0.94",
         [](BagBuilder& b) { b.manifest() += b.line("package-info.txt"); }},
        {"0.94 table", "a tag file in one payload manifest of two", invalid, "manifests-disagree",
         "0.94",
         [](BagBuilder& b) {
             b.files["manifest-md5.txt"] = b.line(Algorithm::md5, "data/one.txt") +
                                           b.line(Algorithm::md5, "data/two/two.txt");
             b.manifest() += b.line("package-info.txt");
         }},
        {"0.94 table", "a tag file in a payload manifest is checked", invalid, "tag-altered",
         "0.94",
         [](BagBuilder& b) {
             b.manifest() += b.line("package-info.txt");
             b.files["package-info.txt"] += "A: b\n";
         }},
        {"8493 §2.1.3-9", "a payload manifest that lists itself", invalid, "manifest-malformed",
         "0.94",
         manifest([](std::string& t) { t += std::string(128, '0') + "  manifest-sha512.txt\n"; })},
        {"8493 §2.1.3-11", "a folder", invalid, "manifest-malformed", "1.0",
         manifest([](std::string& t) { t += std::string(128, '0') + "  data/two\n"; })},
        {"8493 §2.1.3-11", "a folder with a slash at the end", invalid, "manifest-malformed", "1.0",
         manifest([](std::string& t) { t += std::string(128, '0') + "  data/two/\n"; })},
        {"8493 §11", "empty payload, empty manifest", warned, "standard-discouraged", "1.0",
         [](BagBuilder& b) {
             b.files.erase("data/one.txt");
             b.files.erase("data/two/two.txt");
             b.list();
         }},
        {"8493 §2.1.2-1", "no folder data/", invalid, "payload-directory-missing payload-missing",
         "1.0",
         [](BagBuilder& b) {
             b.files.erase("data/one.txt");
             b.files.erase("data/two/two.txt");
             b.files["data"] = "a file";
         }},
        {"8493 §2.1.3-8", "an empty file in the payload", valid, "", "1.0",
         [](BagBuilder& b) {
             b.files["data/empty"] = "";
             b.list();
         }},
        {"0.93 table", "base64 checksums", valid, "", "0.93",
         [](BagBuilder& b) {
             // The MD5 of "abc", RFC 1321 A.5-3, in base64 (RFC 4648 §4).
             b.files = {{"data/abc", "abc"},
                        {"manifest-md5.txt", "kAFQmDzST7DWlj99KOF/cg== data/abc\n"}};
             b.declare();
         }},
        {"0.94 table", "base64 checksums", invalid, "manifest-malformed", "0.94",
         [](BagBuilder& b) {
             b.files = {{"data/abc", "abc"},
                        {"manifest-md5.txt", "kAFQmDzST7DWlj99KOF/cg== data/abc\n"}};
             b.declare();
         }},
    });
}

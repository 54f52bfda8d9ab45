#include "case_table.h"

using namespace glassine::test;
using enum Expect;

namespace {

auto declaration(std::string text) {
    return [text = std::move(text)](BagBuilder& b) { b.files["bagit.txt"] = text; };
}

}  // namespace

/// RFC 8493 §2.1.1 and section 9 of the drafts' comparison: bagit.txt.
TEST_CASE("bagit.txt, rule by rule") {
    const std::string good = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";
    run_all({
        {"8493 §2.1.1-1", "two lines", valid, "", "1.0", declaration(good)},
        {"8493 §2.3-2", "CRLF line ends", valid, "", "1.0",
         declaration("BagIt-Version: 1.0\r\nTag-File-Character-Encoding: UTF-8\r\n")},
        {"8493 §2.3-2", "CR line ends", valid, "", "1.0",
         declaration("BagIt-Version: 1.0\rTag-File-Character-Encoding: UTF-8\r")},
        {"8493 §2.3-3", "no last line end", warned, "declaration-malformed", "1.0",
         declaration("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8")},
        {"8493 §2.1.1-1", "lines in the wrong order", invalid, "declaration-malformed", "1.0",
         declaration("Tag-File-Character-Encoding: UTF-8\nBagIt-Version: 1.0\n")},
        {"8493 §2.1.1-1", "a third line", invalid, "declaration-malformed", "1.0",
         declaration(good + "Contact-Name: Mira Oslander\n")},
        {"8493 §2.1.1-1", "a third line that is empty", invalid, "declaration-malformed", "1.0",
         declaration(good + "\n")},
        {"8493 §2.1.1-1", "no version", invalid, "declaration-malformed", "1.0",
         declaration("Tag-File-Character-Encoding: UTF-8\n")},
        {"8493 §2.1.1-1", "no encoding", invalid, "declaration-malformed", "1.0",
         declaration("BagIt-Version: 1.0\n")},
        {"8493 §2.1.1-1", "empty file", invalid, "declaration-malformed", "1.0", declaration("")},
        {"8493 §2.1.1-1", "version without a dot", invalid, "declaration-malformed", "1.0",
         declaration("BagIt-Version: 1\nTag-File-Character-Encoding: UTF-8\n")},
        {"8493 §2.1.1-1", "version that is a word", invalid, "declaration-malformed", "1.0",
         declaration("BagIt-Version: one.zero\nTag-File-Character-Encoding: UTF-8\n")},
        {"8493 §2.1.1-1", "version with a third part", invalid, "declaration-malformed", "1.0",
         declaration("BagIt-Version: 1.0.0\nTag-File-Character-Encoding: UTF-8\n")},
        {"8493 §2.1.1-1", "two blanks after the colon", invalid, "declaration-malformed", "1.0",
         declaration("BagIt-Version:  1.0\nTag-File-Character-Encoding: UTF-8\n")},
        {"8493 §2.1.1-1", "no blank after the colon", invalid, "declaration-malformed", "1.0",
         declaration("BagIt-Version:1.0\nTag-File-Character-Encoding: UTF-8\n")},
        {"8493 §2.1.1-1", "a blank before the colon", invalid, "declaration-malformed", "1.0",
         declaration("BagIt-Version : 1.0\nTag-File-Character-Encoding: UTF-8\n")},
        {"8493 §2.1.1-1", "a blank at the end of a line", invalid, "declaration-malformed", "1.0",
         declaration("BagIt-Version: 1.0 \nTag-File-Character-Encoding: UTF-8\n")},
        {"8493 §2.1.1-1", "another label", invalid, "declaration-malformed", "1.0",
         declaration("Bag-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")},
        {"8493 §4.1", "the label as the RFC's examples spell it", valid, "", "1.0",
         declaration("BagIt-version: 1.0\nTag-File-Character-Encoding: UTF-8\n")},
        {"8493 §2.1.1-5", "byte order mark", invalid, "declaration-malformed", "1.0",
         declaration("\xEF\xBB\xBF" + good)},
        {"8493 §2.1.1-4", "bytes that are no UTF-8", invalid,
         "declaration-malformed encoding-unknown", "1.0",
         declaration("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\xFF\n")},
        {"8493 §2.1.1-4", "written in UTF-16", invalid, "declaration-malformed", "1.0",
         declaration(std::string("B\0a\0g\0I\0t\0-\0V\0", 14))},
        {"8493 §2.1.1-2", "the encoding's name in lower case", valid, "", "1.0",
         declaration("BagIt-Version: 1.0\nTag-File-Character-Encoding: utf-8\n")},
        {"8493 §2.1.1-2", "another encoding than UTF-8", warned, "standard-discouraged", "1.0",
         declaration("BagIt-Version: 1.0\nTag-File-Character-Encoding: ISO-8859-1\n")},
        {"8493 §2.1.1-3", "an encoding nobody knows", invalid, "encoding-unknown", "1.0",
         declaration("BagIt-Version: 1.0\nTag-File-Character-Encoding: NOWHERE-7\n")},
        {"8493 §2.1.1-3", "a path in the place of an encoding", invalid, "encoding-unknown", "1.0",
         declaration("BagIt-Version: 1.0\nTag-File-Character-Encoding: ../../etc/x\n")},
        {"8493 §2.1.1-3", "a name that is no registered one", warned, "standard-discouraged", "1.0",
         declaration("BagIt-Version: 1.0\nTag-File-Character-Encoding: ISO_8859_1\n")},
        {"8493 §3-1", "no bagit.txt", invalid, "declaration-missing", "1.0",
         [](BagBuilder& b) { b.files.erase("bagit.txt"); }},
        {"8493 §3-1", "bagit.txt in upper case", invalid, "declaration-missing", "1.0",
         [](BagBuilder& b) {
             b.files["BAGIT.TXT"] = b.files["bagit.txt"];
             b.files.erase("bagit.txt");
         }},
        {"8493 §11", "a later version", warned, "version-unknown", "1.0",
         declaration("BagIt-Version: 2.0\nTag-File-Character-Encoding: UTF-8\n")},
        {"8493 §11", "a later version is judged by the rules of 1.0", invalid,
         "version-unknown manifest-duplicate", "1.0",
         [](BagBuilder& b) {
             b.version = "1.1";
             b.declare();
             b.manifest() += b.line("data/one.txt");
         }},
        {"8493 §11", "a version between the drafts and 1.0", warned, "version-unknown", "0.97",
         [](BagBuilder& b) {
             b.version = "0.98";
             b.declare();
         }},
        {"0.93 to 0.95 table", "a third line should not be there", warned, "declaration-malformed",
         "0.95", [](BagBuilder& b) { b.files["bagit.txt"] += "Note: x\n"; }},
        {"0.96 table", "a third line, which only the last draft forbids", warned,
         "declaration-malformed", "0.96",
         [](BagBuilder& b) { b.files["bagit.txt"] += "Note: x\n"; }},
        {"0.97 table", "a third line must not be there", invalid, "declaration-malformed", "0.97",
         [](BagBuilder& b) { b.files["bagit.txt"] += "Note: x\n"; }},
        {"0.96 table", "byte order mark, which only the last draft forbids", warned,
         "declaration-malformed", "0.96",
         [](BagBuilder& b) { b.files["bagit.txt"].insert(0, "\xEF\xBB\xBF"); }},
        {"0.97 table", "byte order mark", invalid, "declaration-malformed", "0.97",
         [](BagBuilder& b) { b.files["bagit.txt"].insert(0, "\xEF\xBB\xBF"); }},
    });
}

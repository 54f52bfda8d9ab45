#include "case_table.h"

using namespace glassine::test;
using enum Expect;

namespace {

auto info(std::string text) {
    return [text = std::move(text)](BagBuilder& b) { b.files["bag-info.txt"] = text; };
}

}  // namespace

/// RFC 8493 §2.2.2 and §2.3: bag-info.txt.
TEST_CASE("bag-info.txt, rule by rule") {
    run_all({
        {"8493 §2.2.2-1", "no bag-info.txt", valid, "", "1.0",
         [](BagBuilder& b) { b.files.erase("bag-info.txt"); }},
        {"8493 §2.2.2-1", "repeated and uncommon labels", valid, "", "1.0",
         info("Client-Name: Ada\nClient-Name: Bo\nX y: z\nContact-Name: A\nContact-Name: B\n")},
        {"8493 §2.2.2-3", "a tab after the colon", valid, "", "1.0", info("Contact-Name:\tMira\n")},
        {"8493 §2.2.2-3", "no blank after the colon", invalid, "tag-malformed", "1.0",
         info("Contact-Name:Mira\n")},
        {"8493 §2.2.2-3", "two blanks after the colon", warned, "standard-discouraged", "1.0",
         info("Contact-Name:  Mira\n")},
        {"8493 §11", "an empty value", valid, "", "1.0", info("Contact-Name: \n")},
        {"8493 §2.2.2-3", "nothing at all after the colon", invalid, "tag-malformed", "1.0",
         info("Contact-Name:\n")},
        {"8493 §2.2.2-4", "a blank before the colon", invalid, "tag-malformed", "1.0",
         info("Contact-Name : Mira\n")},
        {"8493 §2.2.2-4", "no label", invalid, "tag-malformed", "1.0", info(": Mira\n")},
        {"8493 §2.2.2-4", "blanks inside a label", valid, "", "1.0", info("Name of contact: M\n")},
        {"8493 §2.2.2-4", "a colon in the value", valid, "", "1.0", info("Contact-Name: M: O\n")},
        {"8493 §2.2.2-3", "no colon", invalid, "tag-malformed", "1.0", info("Contact Mira\n")},
        {"8493 §2.2.2-6", "a folded value", valid, "", "1.0",
         info("External-Description: a\n b\n\tc\n   d\n")},
        {"8493 §2.2.2-6", "the first line is indented", invalid, "tag-malformed", "1.0",
         info(" b\nContact-Name: M\n")},
        {"8493 §2.3-2", "CR line ends", valid, "", "1.0", info("A: b\rC: d\r")},
        {"8493 §2.3-2", "CRLF line ends", valid, "", "1.0", info("A: b\r\n c\r\nC: d\r\n")},
        {"8493 §2.3-2", "mixed line ends", valid, "", "1.0", info("A: b\rC: d\r\nE: f\n")},
        {"8493 §2.3-3", "no last line end", warned, "standard-discouraged", "1.0", info("A: b")},
        {"8493 §2.2.2-5", "a long line", valid, "", "1.0",
         info("A: " + std::string(200, 'x') + "\n")},
        {"8493 §11", "an empty line", warned, "tag-malformed", "1.0", info("A: b\n\nC: d\n")},
        {"8493 §11", "an empty file", valid, "", "1.0", info("")},
        {"8493 §2.2.2-9", "Payload-Oxum twice", invalid, "tag-malformed", "1.0",
         info("Payload-Oxum: 6.2\nPayload-Oxum: 6.2\n")},
        {"8493 §2.2.2-8", "Payload-Oxum twice, in other case", invalid, "tag-malformed", "1.0",
         info("Payload-Oxum: 6.2\npayload-oxum: 6.2\n")},
        {"8493 §2.2.2-10", "Payload-Oxum right", valid, "", "1.0", info("Payload-Oxum: 6.2\n")},
        {"8493 §2.2.2-10", "Payload-Oxum with wrong bytes", invalid, "oxum-mismatch", "1.0",
         info("Payload-Oxum: 7.2\n")},
        {"8493 §2.2.2-10", "Payload-Oxum with a wrong number of files", invalid, "oxum-mismatch",
         "1.0", info("Payload-Oxum: 6.3\n")},
        {"8493 §2.2.2-10", "Payload-Oxum without files", invalid, "tag-malformed", "1.0",
         info("Payload-Oxum: 6\n")},
        {"8493 §2.2.2-10", "Payload-Oxum larger than any disk", invalid, "tag-malformed", "1.0",
         info("Payload-Oxum: 99999999999999999999.2\n")},
        {"8493 §2.2.2-12", "Bagging-Date twice", warned, "standard-discouraged", "1.0",
         info("Bagging-Date: 2025-09-06\nBagging-Date: 2025-09-07\n")},
        {"8493 §2.2.2-12", "Bag-Size twice", warned, "standard-discouraged", "1.0",
         info("Bag-Size: 1.0 MB\nBag-Size: 1 MB\n")},
        {"8493 §2.2.2-12", "Bag-Group-Identifier twice", warned, "standard-discouraged", "1.0",
         info("Bag-Group-Identifier: a\nbag-group-identifier: b\n")},
        {"8493 §2.2.2-14", "Bag-Count without Bag-Group-Identifier", warned, "standard-discouraged",
         "1.0", info("Bag-Count: 1 of 2\n")},
        {"8493 §2.2.2", "Bag-Count with an open end", valid, "", "1.0",
         info("Bag-Group-Identifier: a\nBag-Count: 3 of ?\n")},
        {"8493 §2.2.2", "Bag-Count of another form", warned, "tag-malformed", "1.0",
         info("Bag-Group-Identifier: a\nBag-Count: 3/4\n")},
        {"8493 §2.2.2", "a day that does not exist", warned, "tag-malformed", "1.0",
         info("Bagging-Date: 2025-02-30\n")},
        {"8493 §2.3-7", "byte order mark", invalid, "tag-malformed", "1.0",
         info("\xEF\xBB\xBF"
              "A: b\n")},
        {"8493 §2.3-5", "bytes that are no UTF-8", invalid, "tag-malformed", "1.0",
         info("A: Lindstr\xF6m\n")},
        {"8493 §2.2.2-7", "blanks around the colon in 0.97", valid, "", "0.97",
         info("Contact-Name  :   Mira\nA:b\n")},
        {"0.96 table", "byte order mark in a tag file", warned, "tag-malformed", "0.96",
         info("\xEF\xBB\xBF"
              "A: b\n")},
        {"0.96 table", "Payload-Oxum is new and counts", invalid, "oxum-mismatch", "0.96",
         info("Payload-Oxum: 7.2\n")},
        {"0.95 table", "the metadata file is package-info.txt", valid, "", "0.95",
         [](BagBuilder& b) { b.files["bag-info.txt"] = "this is any tag file\n"; }},
        {"0.95 table", "a malformed package-info.txt", invalid, "tag-malformed", "0.95",
         [](BagBuilder& b) { b.files["package-info.txt"] = "no colon\n"; }},
        {"0.95 table", "Payload-Oxum means nothing yet", valid, "", "0.95",
         [](BagBuilder& b) { b.files["package-info.txt"] = "Payload-Oxum: 7.2\n"; }},
    });
}

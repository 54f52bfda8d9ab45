#include "glassine/bagit/bag_info.h"

#include "glassine/base/error.h"
#include "support/temp_folder.h"

#include <algorithm>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::bagit;

namespace {

BagInfo read(std::string_view text, const char* version = "1.0",
             std::vector<Finding>* findings = nullptr, std::size_t most = 1 << 20) {
    BagInfo info;
    BagInfoParser parser(
        info, "bag-info.txt", encoding_named("UTF-8"), rules_for(version),
        [&](Finding f) {
            if (findings) findings->push_back(std::move(f));
        },
        most);
    parser.feed(std::as_bytes(std::span(text.data(), text.size())));
    parser.finish();
    return info;
}

std::size_t widest(const std::string& text) {
    std::size_t most = 0;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = text.find('\n', at);
        std::size_t characters = 0;
        for (std::size_t i = at; i < end; ++i)
            characters += (static_cast<unsigned char>(text[i]) & 0xC0) != 0x80;
        most = std::max(most, characters);
        at = end + 1;
    }
    return most;
}

}  // namespace

// RFC 8493 §2.2.2 and its worked example in §4.2: values over two lines, order kept, labels
// repeated.
TEST_CASE("elements keep their order and their line breaks") {
    const BagInfo info = read(
        "Source-Organization: Example Studio\nClient-Name: Ada\n"
        "External-Description: Uncompressed greyscale\n   images\n\tof the harbour\n"
        "client-name: Bo\n");
    REQUIRE(info.elements().size() == 4);
    CHECK(info.elements()[2].value == "Uncompressed greyscale\nimages\nof the harbour");
    CHECK(info.value("external-description") == "Uncompressed greyscale images of the harbour");
    CHECK(info.values("Client-Name") == std::vector<std::string>{"Ada", "Bo"});
    CHECK_FALSE(info.value("Bag-Size"));
}

TEST_CASE("before 1.0 blanks around the colon belong to neither side") {
    const BagInfo info = read("Label one  :\t  value \n   more  \n", "0.97");
    CHECK(info.elements() == std::vector<Element>{{"Label one", "value\nmore"}});
    const BagInfo strict = read("Label:  value \n more  \n", "1.0");
    CHECK(strict.elements() == std::vector<Element>{{"Label", " value \nmore  "}});
}

TEST_CASE("what is written reads back, and lines are folded at 79") {
    std::string long_text;
    for (int i = 0; i < 60; ++i)
        long_text += "word" + std::to_string(i * i) + (i % 7 ? " " : "  ");
    const std::vector<Element> elements{
        {"External-Description", long_text + "end"},
        {"Client-Name", "Åsa Öberg"},
        {"Empty", ""},
        {"Unbroken", std::string(300, 'x')},
        {"Umlauts",
         [] {
             std::string s;
             for (int i = 0; i < 40; ++i)
                 s += "üüüü ";
             return s + "ü";
         }()},
        {"Blanks", "  two before, two after  "},
        {"Client-Name", "Bo: with a colon"},
        {"Exactly", std::string(70, 'a') + " b"},
    };
    const std::string text = bag_info_text(elements);
    std::vector<Finding> findings;
    const BagInfo back = read(text, "1.0", &findings);
    REQUIRE(back.elements().size() == elements.size());
    for (std::size_t i = 0; i < elements.size(); ++i) {
        CHECK(back.elements()[i].label == elements[i].label);
        CHECK(unfolded(back.elements()[i].value) == elements[i].value);
    }
    CHECK_FALSE(any_at_least(findings, Severity::damage));
    const std::string without = bag_info_text(std::vector<Element>{elements[0], elements[4]});
    CHECK(widest(without) <= 79);
}

TEST_CASE("values of any words survive writing and reading") {
    for (unsigned seed = 0; seed < 300; ++seed) {
        std::string value = test::noise(seed, seed);
        for (char& c : value)
            c = "ab  cdefgh: ,\t"[static_cast<unsigned char>(c) % 14];
        const std::vector<Element> elements{{"Label", value}, {"Next", "x"}};
        const BagInfo back = read(bag_info_text(elements));
        REQUIRE(back.elements().size() == 2);
        CHECK(unfolded(back.elements()[0].value) == value);
    }
}

TEST_CASE("line breaks in a value become continuation lines") {
    const std::vector<Element> elements{{"Note", "one\ntwo\r\nthree\rfour"}};
    CHECK(bag_info_text(elements) == "Note: one\n two\n three\n four\n");
    CHECK(read(bag_info_text(elements)).value("Note") == "one two three four");
}

TEST_CASE("labels that the standard forbids are not written") {
    for (const char* label : {"", "a:b", " a", "a ", "a\nb", "\ta", "a\r"})
        CHECK_THROWS_AS(bag_info_text(std::vector<Element>{{label, "x"}}), Error);
}

TEST_CASE("Payload-Oxum and Bag-Size") {
    // RFC 8493 §2.2.2.
    CHECK(parse_oxum("279164409832.1198") == Oxum{279164409832, 1198});
    CHECK(oxum_text({279164409832, 1198}) == "279164409832.1198");
    for (const char* text : {"", ".", "1", "1.", ".1", "1.2.3", "-1.2", "1,2", "0x1.2", "1 .2"})
        CHECK_FALSE(parse_oxum(text));
    CHECK(bag_size_text(42'600'000'000) == "42.6 GB");
    CHECK(bag_size_text(43'000'000'000'000) == "43.0 TB");
    CHECK(bag_size_text(999'960'000) == "1000.0 MB");
    CHECK(bag_size_text(1'250'000) == "1.3 MB");
    CHECK(bag_size_text(1) == "0.1 MB");
    CHECK(bag_size_text(0) == "0.0 MB");
}

TEST_CASE("a file without end is kept within bounds") {
    std::vector<Finding> findings;
    std::string text;
    for (int i = 0; i < 5000; ++i)
        text += "Label: " + std::string(100, 'x') + "\n more\n";
    const BagInfo info = read(text, "1.0", &findings, 10'000);
    CHECK(info.elements().size() < 100);
    CHECK(std::ranges::count(findings, FindingKind::tag_malformed, &Finding::kind) == 1);
}

#include "store/xml.h"

#include <catch2/catch.hpp>

namespace glassine::store {

TEST_CASE("an answer is a tree of names and texts") {
    const auto xml = parse_xml(R"(<?xml version="1.0" encoding="UTF-8"?>
<ListPartsResult xmlns="http://s3.amazonaws.com/doc/2006-03-01/"><Part><PartNumber>1</PartNumber>
<ETag>&quot;a&amp;b&quot;</ETag></Part><Part/><s:Other xmlns:s="x">&#248;</s:Other></ListPartsResult>)");
    REQUIRE(xml);
    CHECK(xml->name == "ListPartsResult");
    REQUIRE(xml->children.size() == 3);
    CHECK(xml->children[0]["PartNumber"] == "1");
    CHECK(xml->children[0]["ETag"] == "\"a&b\"");
    CHECK(xml->children[1]["ETag"].empty());
    CHECK((*xml)["Other"] == "ø");
}

TEST_CASE("what is no answer is none") {
    for (const char* wrong : {"", "   ", "text", "<a>", "<a></b>", "<a/><b/>",
                              "<a>&undeclared;</a>", "<a>\x01</a>", "<a>\xff</a>"})
        CHECK_FALSE(parse_xml(wrong));
    // Entities that grow, a thousand levels: nothing a store ever sends.
    CHECK_FALSE(
        parse_xml("<!DOCTYPE a [<!ENTITY x \"xxxxxxxx\"><!ENTITY y \"&x;&x;\">]><a>&y;</a>"));
    std::string deep;
    for (int i = 0; i < 1000; ++i)
        deep += "<a>";
    CHECK_FALSE(parse_xml(deep));
}

TEST_CASE("an answer that is cut anywhere is none") {
    const std::string whole = "<?xml version=\"1.0\"?><Error><Code>NoSuchKey</Code></Error>";
    REQUIRE(parse_xml(whole));
    for (std::size_t size = 0; size < whole.size(); ++size)
        CHECK_FALSE(parse_xml(whole.substr(0, size)));
}

// XML 1.0 §2.4.
TEST_CASE("text inside an element is escaped") {
    const std::string text = "a<b>&\"c'";
    const auto xml = parse_xml("<a>" + xml_escaped(text) + "</a>");
    REQUIRE(xml);
    CHECK(xml->text == text);
}

}  // namespace glassine::store

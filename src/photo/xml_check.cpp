#include "photo/xml_check.h"

#include <algorithm>
#include <memory>

#include <expat.h>
#include <fmt/format.h>

namespace glassine::photo {

namespace {

constexpr int deepest_element = 200;
constexpr std::string_view rdf_root = "http://www.w3.org/1999/02/22-rdf-syntax-ns# RDF";

struct Parsing {
    XML_Parser parser = nullptr;
    int depth = 0;
    bool has_rdf = false;
    const char* refused = nullptr;

    void refuse(const char* why) {
        refused = why;
        XML_StopParser(parser, XML_FALSE);
    }
};

void XMLCALL start(void* data, const XML_Char* name, const XML_Char**) {
    auto& parsing = *static_cast<Parsing*>(data);
    if (name == rdf_root) parsing.has_rdf = true;
    if (++parsing.depth > deepest_element)
        parsing.refuse("its elements are nested too deep to be XMP");
}

void XMLCALL end(void* data, const XML_Char*) {
    --static_cast<Parsing*>(data)->depth;
}

void XMLCALL entity(void* data, const XML_Char*, int, const XML_Char*, int, const XML_Char*,
                    const XML_Char*, const XML_Char*, const XML_Char*) {
    static_cast<Parsing*>(data)->refuse("it declares entities, which XMP has no use for");
}

}  // namespace

XmlResult check_xml(Bytes document) {
    const std::unique_ptr<XML_ParserStruct, decltype(&XML_ParserFree)> parser(
        XML_ParserCreateNS(nullptr, ' '), &XML_ParserFree);
    if (!parser) return {Verdict::not_checkable, "there is no memory to read it", 0};
    Parsing parsing{parser.get()};
    XML_SetUserData(parser.get(), &parsing);
    XML_SetElementHandler(parser.get(), &start, &end);
    XML_SetEntityDeclHandler(parser.get(), &entity);

    XML_Status status = XML_STATUS_OK;
    constexpr std::size_t piece = 1u << 20;
    do {
        const Bytes now = document.first(std::min(document.size(), piece));
        document = document.subspan(now.size());
        status = XML_Parse(parser.get(), reinterpret_cast<const char*>(now.data()),
                           static_cast<int>(now.size()), document.empty());
    } while (status == XML_STATUS_OK && !document.empty());

    const auto at =
        static_cast<std::uint64_t>(std::max<XML_Index>(XML_GetCurrentByteIndex(parser.get()), 0));
    if (parsing.refused != nullptr) return {Verdict::not_checkable, parsing.refused, at};
    if (status != XML_STATUS_OK)
        return {Verdict::broken,
                fmt::format("not well-formed XML: {} at line {}",
                            XML_ErrorString(XML_GetErrorCode(parser.get())),
                            XML_GetCurrentLineNumber(parser.get())),
                at};
    if (!parsing.has_rdf)
        return {Verdict::broken, "well-formed XML, but no XMP: it holds no RDF", 0};
    return {};
}

}  // namespace glassine::photo

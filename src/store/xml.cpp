#include "store/xml.h"

#include <algorithm>
#include <memory>

#include <expat.h>

namespace glassine::store {
namespace {

constexpr std::size_t deepest = 16;
constexpr int piece = 1 << 20;

struct Building {
    XML_Parser parser = nullptr;
    XmlElement top;
    std::vector<XmlElement*> open;
    bool refused = false;

    void refuse() {
        refused = true;
        XML_StopParser(parser, XML_FALSE);
    }
};

void XMLCALL element_begins(void* data, const XML_Char* name, const XML_Char**) {
    auto& building = *static_cast<Building*>(data);
    if (building.open.size() >= deepest) return building.refuse();
    std::string_view local = name;
    if (const std::size_t blank = local.rfind(' '); blank != std::string_view::npos)
        local.remove_prefix(blank + 1);
    XmlElement& parent = building.open.empty() ? building.top : *building.open.back();
    // Only the last child of an open element is open: no pointer in `open` moves.
    parent.children.push_back({std::string(local), {}, {}});
    building.open.push_back(&parent.children.back());
}

void XMLCALL element_ends(void* data, const XML_Char*) {
    static_cast<Building*>(data)->open.pop_back();
}

void XMLCALL characters(void* data, const XML_Char* text, int length) {
    auto& building = *static_cast<Building*>(data);
    if (!building.open.empty())
        building.open.back()->text.append(text, static_cast<std::size_t>(length));
}

void XMLCALL entity_declared(void* data, const XML_Char*, int, const XML_Char*, int,
                             const XML_Char*, const XML_Char*, const XML_Char*, const XML_Char*) {
    static_cast<Building*>(data)->refuse();
}

}  // namespace

std::string_view XmlElement::operator[](std::string_view child) const {
    for (const XmlElement& element : children)
        if (element.name == child) return element.text;
    return {};
}

std::optional<XmlElement> parse_xml(std::string_view document) {
    // Blanks keep a connection alive while the store is still at work (CompleteMultipartUpload).
    document.remove_prefix(std::min(document.find_first_not_of(" \t\r\n"), document.size()));
    const std::unique_ptr<XML_ParserStruct, decltype(&XML_ParserFree)> parser(
        XML_ParserCreateNS(nullptr, ' '), &XML_ParserFree);
    if (!parser) return std::nullopt;
    Building building;
    building.parser = parser.get();
    XML_SetUserData(parser.get(), &building);
    XML_SetElementHandler(parser.get(), &element_begins, &element_ends);
    XML_SetCharacterDataHandler(parser.get(), &characters);
    XML_SetEntityDeclHandler(parser.get(), &entity_declared);
    XML_Status status = XML_STATUS_OK;
    do {
        const std::string_view now = document.substr(0, piece);
        document.remove_prefix(now.size());
        status = XML_Parse(parser.get(), now.data(), static_cast<int>(now.size()),
                           document.empty() ? XML_TRUE : XML_FALSE);
    } while (status == XML_STATUS_OK && !document.empty());
    if (status != XML_STATUS_OK || building.refused || building.top.children.empty())
        return std::nullopt;
    return std::move(building.top.children.front());
}

std::string xml_escaped(std::string_view text) {
    std::string out;
    for (const char c : text) {
        if (c == '<')
            out += "&lt;";
        else if (c == '>')
            out += "&gt;";
        else if (c == '&')
            out += "&amp;";
        else if (c == '"')
            out += "&quot;";
        else
            out += c;
    }
    return out;
}

}  // namespace glassine::store

#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::store {

/// An element of a store's answer; names without their namespace.
struct XmlElement {
    std::string name;
    std::string text;
    std::vector<XmlElement> children;

    /// The text of the first child of this name; empty when there is none.
    std::string_view operator[](std::string_view child) const;
};

/// The whole of an answer; nothing when it is no XML, nested deeper than any answer is, or declares
/// entities.
std::optional<XmlElement> parse_xml(std::string_view document);

/// Text inside an element.
std::string xml_escaped(std::string_view text);

}  // namespace glassine::store

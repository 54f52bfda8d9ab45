#pragma once

#include "glassine/photo/picture.h"
#include "photo/bytes.h"

#include <string>

namespace glassine::photo {

/// Is an XMP sidecar well-formed XML with namespaces, and does it hold RDF? Read by expat; entities
/// are never expanded (a document that declares any is `not_checkable`), depth is bounded.
struct XmlResult {
    Verdict verdict = Verdict::whole;
    std::string why;
    std::uint64_t offset = 0;  ///< byte at which it goes wrong
};

XmlResult check_xml(Bytes document);

}  // namespace glassine::photo

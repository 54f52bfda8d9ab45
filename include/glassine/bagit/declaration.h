#pragma once

#include "glassine/bagit/encoding.h"
#include "glassine/bagit/rules.h"
#include "glassine/base/finding.h"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::bagit {

/// What bagit.txt says (8493 §2.1.1).
struct Declaration {
    std::string version;  ///< as written; empty when it says none
    Encoding encoding;    ///< UTF-8 when it says none
};

/// Reads the content of bagit.txt. Never fails: what is wrong is added to `findings`, weighed by
/// the version that the text itself declares, and as much as can be understood is returned.
/// "BagIt-version", as the RFC's own examples spell the label, is read as well.
Declaration parse_declaration(std::string_view content, std::vector<Finding>& findings);

/// The two lines of a 1.0 bag with UTF-8 tag files.
std::string declaration_text();

}  // namespace glassine::bagit

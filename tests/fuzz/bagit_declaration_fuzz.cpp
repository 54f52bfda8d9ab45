#include "bagit_input.h"
#include "glassine/bagit/declaration.h"

using namespace glassine;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    std::vector<Finding> findings;
    const auto declaration =
        bagit::parse_declaration({reinterpret_cast<const char*>(data), size}, findings);
    if (findings.empty()) {
        fuzz::require(bagit::known_version(declaration.version));
        fuzz::require(declaration.encoding.known && declaration.encoding.utf8);
    }
    fuzz::require(findings.size() < 20);
    return 0;
}

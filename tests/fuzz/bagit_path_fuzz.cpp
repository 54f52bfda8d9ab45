#include "bagit_input.h"
#include "glassine/bagit/path.h"

#include <string>

using namespace glassine;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string_view path(reinterpret_cast<const char*>(data), size);
    bool stray = true;
    fuzz::require(bagit::decode_path(bagit::encode_path(path), &stray) == path && !stray);
    const std::string decoded = bagit::decode_path(path, &stray);
    if (!stray && path.find_first_of("\r\n") == std::string_view::npos)
        fuzz::require(bagit::decode_path(bagit::encode_path(decoded)) == decoded);
    const std::string canonical = bagit::canonical_path(path);
    fuzz::require(bagit::canonical_path(canonical) == canonical);
    if (bagit::is_canonical_path(path)) fuzz::require(canonical == path);
    // Writing a path canonically never makes a harmless one climb out of the bag.
    if (!bagit::unsafe_path(path)) fuzz::require(canonical.find("../") != 0);
    bagit::not_portable(path);
    bagit::path_units(path);
    return 0;
}

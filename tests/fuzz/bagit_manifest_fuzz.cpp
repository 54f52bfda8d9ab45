#include "bagit_input.h"
#include "glassine/bagit/manifest.h"
#include "glassine/bagit/path.h"

using namespace glassine;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const fuzz::TagInput input(data, size);
    const auto encoding = bagit::encoding_named(input.encoding);
    const auto name = *bagit::manifest_name("manifest-md5.txt");
    std::vector<Finding> first;
    std::vector<Finding> second;
    bagit::Manifest whole("manifest-md5.txt", name);
    bagit::Manifest pieces("manifest-md5.txt", name);
    bagit::ManifestParser one(whole, encoding, bagit::rules_for(input.version),
                              [&](Finding f) { first.push_back(std::move(f)); });
    bagit::ManifestParser two(pieces, encoding, bagit::rules_for(input.version),
                              [&](Finding f) { second.push_back(std::move(f)); });
    input.whole(one);
    input.in_pieces(two);
    fuzz::require(first == second && whole.size() == pieces.size());
    for (std::uint32_t i = 0; i < whole.size(); ++i) {
        fuzz::require(whole[i].path == pieces[i].path);
        fuzz::require(std::ranges::equal(whole[i].digest, pieces[i].digest));
        fuzz::require(!bagit::unsafe_path(whole[i].path));
    }
    return 0;
}

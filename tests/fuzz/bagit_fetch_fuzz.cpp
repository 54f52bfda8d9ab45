#include "bagit_input.h"
#include "glassine/bagit/fetch.h"
#include "glassine/bagit/path.h"

using namespace glassine;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const fuzz::TagInput input(data, size);
    const auto encoding = bagit::encoding_named(input.encoding);
    std::vector<Finding> first;
    std::vector<Finding> second;
    std::vector<bagit::FetchEntry> whole;
    std::vector<bagit::FetchEntry> pieces;
    bagit::FetchParser one(whole, encoding, bagit::rules_for(input.version),
                           [&](Finding f) { first.push_back(std::move(f)); });
    bagit::FetchParser two(pieces, encoding, bagit::rules_for(input.version),
                           [&](Finding f) { second.push_back(std::move(f)); });
    input.whole(one);
    input.in_pieces(two);
    fuzz::require(first == second && whole.size() == pieces.size());
    for (std::size_t i = 0; i < whole.size(); ++i) {
        fuzz::require(whole[i].path == pieces[i].path && whole[i].length == pieces[i].length);
        fuzz::require(!bagit::unsafe_path(whole[i].path) && bagit::in_payload(whole[i].path));
    }
    return 0;
}

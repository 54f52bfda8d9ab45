#include "bagit_input.h"
#include "glassine/bagit/bag_info.h"

using namespace glassine;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const fuzz::TagInput input(data, size);
    const auto encoding = bagit::encoding_named(input.encoding);
    std::vector<Finding> first;
    std::vector<Finding> second;
    bagit::BagInfo whole;
    bagit::BagInfo pieces;
    bagit::BagInfoParser one(whole, "bag-info.txt", encoding, bagit::rules_for(input.version),
                             [&](Finding f) { first.push_back(std::move(f)); });
    bagit::BagInfoParser two(pieces, "bag-info.txt", encoding, bagit::rules_for(input.version),
                             [&](Finding f) { second.push_back(std::move(f)); });
    input.whole(one);
    input.in_pieces(two);
    fuzz::require(whole.elements() == pieces.elements());
    fuzz::require(first == second);
    return 0;
}

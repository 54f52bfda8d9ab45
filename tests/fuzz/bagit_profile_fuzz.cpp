#include "bagit_input.h"
#include "glassine/bagit/profile.h"

using namespace glassine;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string text(reinterpret_cast<const char*>(data), size);
    std::vector<Finding> findings;
    const auto profile = bagit::parse_profile(text, "profile.json", findings);
    fuzz::require(profile || findings.size() == 1);
    if (!profile) return 0;
    for (const Finding& finding : findings)
        fuzz::require(finding.kind == FindingKind::profile_malformed);
    // Any profile can be held against a bag of nothing.
    bagit::BagLoader loader(bagit::Listing(), {});
    loader.declare("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n");
    const bagit::Bag bag = loader.finish();
    std::size_t missed = 0;
    bagit::judge_by_profile(*profile, bag, "application/zip", [&](Finding) { ++missed; });
    fuzz::require(missed > 0);
    for (const std::string& pattern : profile->accepted_versions)
        fuzz::require(bagit::matches_pattern(pattern, pattern));
    return 0;
}

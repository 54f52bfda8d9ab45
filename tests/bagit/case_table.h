#pragma once

#include "bag_builder.h"

#include <functional>
#include <iterator>
#include <set>
#include <sstream>
#include <string>
#include <vector>

namespace glassine::test {

enum class Expect { valid, warned, invalid };

/// One bag, built from the standard's text, and how it is to be judged.
struct Case {
    std::string rule;  ///< the rule's id, as in "8493 §2.1.3-2" or "0.97 table" (draft's own text)
    std::string what;
    Expect expect;
    std::string findings;  ///< words of all kinds found at `warning` or above, with blanks between
    std::string version;
    std::function<void(BagBuilder&)>
        change;  ///< of a bag that is in order; tag manifests are written anew after it
    bool prove = true;
};

inline std::set<std::string> words_of(const std::string& text) {
    std::istringstream in(text);
    return {std::istream_iterator<std::string>(in), {}};
}

/// Whether a bag was judged as its case expects, and for the kinds that the case names.
inline void compare(const bagit::BagReport& report, Expect expect, const std::string& findings) {
    std::set<std::string> found;
    for (const Finding& f : report.findings)
        if (f.severity >= Severity::warning) found.insert(std::string(word(f.kind)));
    REQUIRE(report.valid.has_value());
    CHECK(*report.valid == (expect != Expect::invalid));
    CHECK(found == words_of(findings));
    if (expect == Expect::valid) CHECK(found.empty());
    if (expect == Expect::warned) CHECK_FALSE(found.empty());
    if (*report.valid) CHECK(report.complete);
}

inline void run(const Case& c) {
    BagBuilder bag = BagBuilder::of(c.version);
    if (c.change) c.change(bag);
    if (c.prove) bag.prove();
    const bagit::BagReport report = check(bag);
    INFO(c.rule << ": " << c.what << " (" << c.version << ")\n" << described(report));
    compare(report, c.expect, c.findings);
}

inline void run_all(const std::vector<Case>& cases) {
    for (const Case& c : cases)
        run(c);
}

}  // namespace glassine::test

#include "glassine/base/finding.h"

#include "support/temp_folder.h"

#include <algorithm>
#include <regex>
#include <set>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

using namespace glassine;

namespace {

/// The enumerators of FindingKind as the header lists them.
std::vector<std::string> enumerators() {
    const std::string header = test::content_of(SOURCE_TREE "/include/glassine/base/finding.h");
    const std::size_t from = header.find("enum class FindingKind {");
    REQUIRE(from != std::string::npos);
    const std::string body = header.substr(from, header.find("};", from) - from);
    const std::regex line("\n    ([a-z_]+),");
    std::vector<std::string> names;
    for (std::sregex_iterator at(body.begin(), body.end(), line), end; at != end; ++at)
        names.push_back((*at)[1]);
    return names;
}

}  // namespace

TEST_CASE("every kind of finding has its word, and the word is its name") {
    const std::vector<std::string> names = enumerators();
    REQUIRE(names.size() > 50);
    CHECK(names.size() == finding_kinds().size());
    std::set<std::string_view> words;
    for (const KindInfo& kind : finding_kinds()) {
        INFO(kind.word);
        CHECK(words.insert(kind.word).second);
        CHECK(finding_kind(kind.word) == kind.kind);
        CHECK(word(kind.kind) == kind.word);
        CHECK(kind.meaning.ends_with('.'));
        std::string name(kind.word);
        std::ranges::replace(name, '-', '_');
        REQUIRE(static_cast<std::size_t>(kind.kind) < names.size());
        CHECK(names[static_cast<std::size_t>(kind.kind)] == name);
    }
    CHECK_FALSE(finding_kind("payload_altered"));
    CHECK_FALSE(finding_kind(""));
}

TEST_CASE("docs/findings.md lists exactly the kinds there are, with their usual severity") {
    const std::string page = test::content_of(SOURCE_TREE "/docs/findings.md");
    // A row: | `word` | severity | meaning …
    const std::regex row("\n\\| `([a-z-]+)` \\| ([a-z]+) \\| ");
    std::set<std::string> listed;
    for (std::sregex_iterator at(page.begin(), page.end(), row), end; at != end; ++at) {
        const std::string name = (*at)[1];
        INFO(name);
        CHECK(listed.insert(name).second);
        const auto kind = finding_kind(name);
        REQUIRE(kind);
        CHECK(word(info(*kind).severity) == (*at)[2].str());
    }
    for (const KindInfo& kind : finding_kinds()) {
        INFO(kind.word);
        CHECK(listed.contains(std::string(kind.word)));
    }
}

TEST_CASE("people are shown the worst first, then by path and place") {
    std::vector<Finding> findings{
        found(FindingKind::system_junk, "a", ""),
        found(FindingKind::payload_altered, "b", ""),
        found(FindingKind::algorithm_unknown, "a", ""),
        found(FindingKind::payload_altered, "a", "second"),
        found(FindingKind::payload_altered, "a", "first"),
        found(FindingKind::image_broken, "a", ""),
    };
    findings[3].offset = 8192;
    findings[4].offset = 4096;
    sort_findings(findings);
    std::vector<std::string> order;
    for (const Finding& finding : findings)
        order.push_back(std::string(word(finding.severity)) + " " + finding.path +
                        std::to_string(finding.offset.value_or(0)));
    CHECK(order == std::vector<std::string>{"damage a4096", "damage a8192", "damage b0",
                                            "blocking a0", "warning a0", "note a0"});
}

TEST_CASE("whether anything weighs as much as that") {
    const std::vector<Finding> notes{found(FindingKind::system_junk, "a", "")};
    CHECK(any_at_least(notes, Severity::note));
    CHECK_FALSE(any_at_least(notes, Severity::warning));
    const std::vector<Finding> worse{
        notes[0], found(FindingKind::payload_missing, Severity::blocking, "b", "")};
    CHECK(any_at_least(worse, Severity::blocking));
    CHECK_FALSE(any_at_least(worse, Severity::damage));
    CHECK_FALSE(any_at_least({}, Severity::note));
}

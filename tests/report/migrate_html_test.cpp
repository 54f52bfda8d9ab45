#include "glassine/report/migrate_result.h"

#include <catch2/catch.hpp>

using namespace glassine;

TEST_CASE("the statement of retirement runs no script, fetches nothing and escapes every name") {
    report::MigrateResult result;
    result.target = "/new";
    result.copies_wanted = 3;
    result.bags.resize(2);
    result.bags[0].drive = "/old";
    result.bags[0].source = "/old/<script>alert(1)</script>";
    result.bags[0].path = "/new/a";
    result.bags[0].fate = report::Fate::carried;
    result.bags[1].drive = "/old";
    result.bags[1].source = "/old/b";
    result.bags[1].failure = "could not & would not";
    result.sources.resize(1);
    result.sources[0].path = "/old";
    result.sources[0].left = {found(FindingKind::unmapped, "a\"b.txt", "it stands in no bag")};
    result.sources[0].junk = {".DS_Store"};
    const std::string page = report::to_html(result);
    CHECK(page.find("<script") == std::string::npos);
    CHECK(page.find("http:") == std::string::npos);
    CHECK(page.find("https:") == std::string::npos);
    CHECK(page.find("default-src 'none'") != std::string::npos);
    CHECK(page.find("could not &amp; would not") != std::string::npos);
    CHECK(page.find("a&quot;b.txt") != std::string::npos);
    CHECK(page.find("Not everything on it is accounted for: keep it.") != std::string::npos);
    CHECK(page.find("carried, bit for bit") != std::string::npos);
    result.sources[0].may_go = true;
    result.sources[0].too_few = 1;
    CHECK(report::to_html(result).find("Keep it until its bags") != std::string::npos);
    result.sources[0].too_few = 0;
    CHECK(report::to_html(result).find("as the policy wants: it may go") != std::string::npos);
}

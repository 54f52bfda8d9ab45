#include "glassine/job/studio.h"

#include "glassine/base/error.h"
#include "support/temp_folder.h"

#include <catch2/catch.hpp>

using namespace glassine;
using job::Section;
using job::Studio;

namespace {

std::string refusal(std::string_view toml) {
    try {
        job::parse_studio(toml, "studio.toml");
    } catch (const Error& error) {
        CHECK(error.cause() == Cause::malformed);
        CHECK(error.path() == "studio.toml");
        CHECK_FALSE(error.next().empty());
        return error.sentence();
    }
    return {};
}

}  // namespace

TEST_CASE("an empty studio file changes nothing") {
    CHECK(job::parse_studio("", "studio.toml") == Studio{});
    CHECK(Studio{}.recovery_percent == 5);
    CHECK(Studio{}.folders[index(Section::rejects)] == "rejects");
}

TEST_CASE("the example studio file sets every key") {
    const Studio studio =
        job::read_studio(io::posix_file_system(), SOURCE_TREE "/docs/studio-example.toml");
    CHECK(studio.name == "Lantern Quay Photographs");
    CHECK(studio.contact_name == "Maren Oduya-Falk");
    CHECK(studio.contact_email == "archive@lanternquay.example");
    CHECK(studio.organisation == "Lantern Quay Photographs Ltd");
    CHECK(studio.rights.starts_with("©"));
    CHECK(studio.clears_media.size() == 2);
    CHECK(studio.destinations.size() == 2);
    CHECK(studio.policy == job::Policy{});
    CHECK(studio.limits == job::Limits{});
    CHECK(studio.object_store.at("path_style") == "true");
}

TEST_CASE("the page about the studio file names every key of the example") {
    const std::string page = test::content_of(SOURCE_TREE "/docs/studio-file.md");
    const std::string example = test::content_of(SOURCE_TREE "/docs/studio-example.toml");
    std::size_t begin = 0;
    std::string table;
    while (begin < example.size()) {
        const std::size_t end = std::min(example.find('\n', begin), example.size());
        const std::string line = example.substr(begin, end - begin);
        begin = end + 1;
        if (line.starts_with('[')) table = line;
        const std::size_t equals = line.find(" = ");
        if (line.starts_with('#') || equals == std::string::npos || table == "[object_store]")
            continue;
        const std::string key = line.substr(0, equals);
        CAPTURE(key);
        const std::string dotted = table.substr(1, table.size() - 2) + '.' + key;
        CHECK((page.find('`' + key + '`') != std::string::npos ||
               page.find('`' + dotted + '`') != std::string::npos));
    }
}

TEST_CASE("values are read in the forms that people write") {
    const Studio studio = job::parse_studio(R"(
[studio]
name = "Quay"
[sections]
print = "exports/print/"
[closeout]
recovery = "none"
[print]
smallest = "30 x 20 cm"
ppi = 200
[policy]
copies = 2
audit_every = "6 weeks"
keep = "90 days"
promised = "18 months"
)",
                                            "studio.toml");
    CHECK(studio.organisation == "Quay");
    CHECK(studio.folders[index(Section::print)] == "exports/print");
    CHECK(studio.recovery_percent == 0);
    CHECK(studio.limits.print_width == Approx(20 / 2.54));
    CHECK(studio.limits.print_height == Approx(30 / 2.54));
    CHECK(studio.policy.volumes == 2);
    CHECK(studio.policy.audit_every == job::Period{0, 42});
    CHECK(studio.policy.keep == job::Period{0, 90});
    CHECK(studio.policy.promised == job::Period{18, 0});
}

TEST_CASE("an unknown key is refused with its place and the nearest known key") {
    const std::string why = refusal("[closeout]\nrecovery = 7\n\n[web]\nlong_egde = 2000\n");
    CHECK(why.find("line 5, column 1: web.long_egde is not a known key") != std::string::npos);
    CHECK(why.find("the nearest known key is web.long_edge") != std::string::npos);
    CHECK(refusal("[polcy]\ncopies = 3\n").find("nearest known key is policy") !=
          std::string::npos);
    CHECK(refusal("name = \"Quay\"\n").find("name is not a known key") != std::string::npos);
}

TEST_CASE("what is not TOML is refused with line and column") {
    const std::string why = refusal("[studio]\nname = Quay\n");
    CHECK(why.find("line 2, column ") != std::string::npos);
    CHECK(refusal("[studio]\nname = \"\xff\"\n").find("line 2") != std::string::npos);
    CHECK_FALSE(refusal("[studio\n").empty());
}

TEST_CASE("values of the wrong type or out of range are refused") {
    const auto [toml, why] = GENERATE(table<const char*, const char*>({
        {"studio = 3", "studio must be a table"},
        {"[studio]\nname = 3", "line 2, column 8: studio.name must be text"},
        {"[studio]\nclears_media = \"M\"", "studio.clears_media must be a list"},
        {"[studio]\nclears_media = [1]", "studio.clears_media must be a list"},
        {"[closeout]\nrecovery = 101", "closeout.recovery must be a whole number from 0 to 100"},
        {"[closeout]\nrecovery = -1", "closeout.recovery must be"},
        {"[closeout]\nrecovery = 5.5", "closeout.recovery must be"},
        {"[closeout]\nrecovery = \"some\"", "closeout.recovery must be"},
        {"[policy]\ncopies = 2\noff_site = 3",
         "policy.off_site must be a whole number from 0 to 2"},
        {"[policy]\nkeep = \"for ever\"", "policy.keep must be a length of time"},
        {"[policy]\nkeep = 5", "policy.keep must be text"},
        {"[print]\nsmallest = \"8 by 10\"", "print.smallest must be the size of a print"},
        {"[print]\nsmallest = \"0x10 in\"", "print.smallest must be"},
        {"[print]\nsmallest = \"nanx10 in\"", "print.smallest must be"},
        {"[sections]\nweb = \"/web\"", "sections.web must be a folder inside the job folder"},
        {"[sections]\nweb = \"../web\"", "sections.web must be a folder inside"},
        {"[sections]\nweb = \"a/../../web\"", "sections.web must be a folder inside"},
        {"[sections]\nweb = \"\"", "sections.web must be a folder inside"},
        {"[sections]\nweb = \"print\"", "sections.web is the same folder as print"},
        {"[sections]\noriginals = \"./web\"", "sections.web is the same folder as originals"},
        {"[object_store]\na = [1]", "object_store.a must be text"},
    }));
    CAPTURE(toml);
    CHECK_THAT(refusal(toml), Catch::Contains(why));
}

TEST_CASE("periods are a whole number and a unit") {
    CHECK(job::parse_period("1 year") == job::Period{12, 0});
    CHECK(job::parse_period(" 2  Years ") == job::Period{24, 0});
    CHECK(job::parse_period("1 day") == job::Period{0, 1});
    for (const char* other : {"", "year", "0 days", "1", "1.5 years", "-1 day", "1 fortnight",
                              "1201 months", "99999999999 days", "1 years old"}) {
        CAPTURE(other);
        CHECK_FALSE(job::parse_period(other));
    }
}

TEST_CASE("a studio file that is not there is an error that says so") {
    const test::TempFolder folder;
    try {
        job::read_studio(io::posix_file_system(), folder / "studio.toml");
        FAIL("read a file that does not exist");
    } catch (const Error& error) {
        CHECK(error.cause() == Cause::not_found);
    }
}

#include "glassine/job/folder_name.h"

#include <catch2/catch.hpp>

using namespace glassine;
using job::AdoptRules;
using job::DateOrder;
using job::Section;

namespace {

std::string joined(const std::vector<std::string>& names) {
    std::string out;
    for (const std::string& name : names)
        out += (out.empty() ? "" : "+") + name;
    return out;
}

/// "2014-06-21|Holt+Brandvik|wedding|0113", or "-" when nothing was read.
std::string read(const std::string& path, const AdoptRules& rules = {}) {
    const auto result = job::read_folder_name(path, rules);
    if (!result.reading) {
        CHECK_FALSE(result.why.empty());
        return "-";
    }
    const job::FolderReading& r = *result.reading;
    return iso_date(r.date) + "|" + joined(r.clients) + "|" + r.about + "|" + r.job_number;
}

struct Row {
    const char* name;
    const char* expected;
};

}  // namespace

// An invented year of messy folder names. The readings were written by hand before there was code.
TEST_CASE("a year of messy folder names is read as a person would, or not at all") {
    constexpr Row rows[] = {
        {"2014-01-11_okafor-lindqvist_sailing-gala", "2014-01-11|okafor-lindqvist|sailing-gala|"},
        {"2014-01-18 Holt wedding", "2014-01-18|Holt|wedding|"},
        {"2014-01-25 Wedding Holt & Brandvik", "2014-01-25|Holt+Brandvik|Wedding|"},
        {"20140201 Tenbrook Wedding", "2014-02-01|Tenbrook|Wedding|"},
        {"2014_02_08_Askvik_Christening", "2014-02-08|Askvik|Christening|"},
        {"2014.02.15 - Maren Holt - Portraits", "2014-02-15|Maren Holt|Portraits|"},
        {"Holt - Engagement - 2014-02-22", "2014-02-22|Holt|Engagement|"},
        {"Harbour Gala 2014-03-01 Quillon Club", "-"},
        {"21.03.2014 Holt Wedding", "2014-03-21|Holt|Wedding|"},
        {"03.21.2014 Holt Wedding", "2014-03-21|Holt|Wedding|"},
        {"05.06.2014 Holt Wedding", "-"},
        {"05.05.2014 Holt Wedding", "2014-05-05|Holt|Wedding|"},
        {"140329 Holt Wedding", "-"},
        {"140605 Holt Wedding", "-"},
        {"5 April 2014 - Brandvik, Graduation", "2014-04-05|Brandvik|Graduation|"},
        {"April 12 2014 Oyelaran family portraits", "2014-04-12|Oyelaran|family portraits|"},
        {"12 Apr 2014 Oyelaran family portraits", "2014-04-12|Oyelaran|family portraits|"},
        {"2014-04-19_0113_Holt_Wedding", "2014-04-19|Holt|Wedding|0113"},
        {"0114 2014-04-26 Askvik Wedding", "2014-04-26|Askvik|Wedding|0114"},
        {"2014-05-03 Ines and Tomas Halloway wedding", "2014-05-03|Ines+Tomas Halloway|wedding|"},
        {"2014-05-10 Halloway + Quist Wedding Reception",
         "2014-05-10|Halloway+Quist|Wedding Reception|"},
        {"2014-05-17 Regatta", "-"},
        {"2014-05-24 Quist", "-"},
        {"Quist Wedding", "-"},
        {"2014-05 Quist Wedding", "-"},
        {"2014-05-32 Quist Wedding", "-"},
        {"2014-02-29 Quist Wedding", "-"},
        {"2014-06-07 to 2014-06-08 Quist Wedding", "-"},
        {"2014-06-14 Quist_Wedding FINAL", "2014-06-14|Quist|Wedding FINAL|"},
        {"2014-06-21_Quist-Wedding", "2014-06-21|Quist|Wedding|"},
        {"2014-06-28_Åse Bjørnson_Wedding", "2014-06-28|Åse Bjørnson|Wedding|"},
        {"2014-07-05 Marlowe Shipping – Corporate", "2014-07-05|Marlowe Shipping|Corporate|"},
        {"2014-07-12 (Quist) Wedding", "2014-07-12|Quist|Wedding|"},
        {"2014-07-19  Quist   birthday  party ", "2014-07-19|Quist|birthday party|"},
        {"WEDDING_QUIST_20140726", "2014-07-26|QUIST|WEDDING|"},
        {"2014/08-16 Holt Wedding", "2014-08-16|Holt|Wedding|"},
        {"2014/08/23 Holt Wedding", "2014-08-23|Holt|Wedding|"},
        {"2014/08 August/30 Holt Wedding", "2014-08-30|Holt|Wedding|"},
        {"2014/2014-09-06 Holt Wedding", "2014-09-06|Holt|Wedding|"},
        {"2013/2014-09-06 Holt Wedding", "2014-09-06|Holt|Wedding|"},
        {"2014/09-06 Holt Wedding", "-"},
        {"Weddings/2014-09-13 Holt & Quist", "-"},
        {"2014-09-20 Holt Wedding Villa Marina", "-"},
        {"2014-09-27_Holt_Quist_Wedding", "-"},
        {"2014-10-04_Wedding_Party", "-"},
        {"Job 2014-10-11 Holt Wedding", "-"},
        {"IMG_2014", "-"},
        {"New folder", "-"},
        {"1986-10-11 Holt Wedding", "1986-10-11|Holt|Wedding|"},
    };
    for (const Row& row : rows) {
        INFO(row.name);
        CHECK(read(row.name) == row.expected);
    }
}

TEST_CASE("the studio's order of day and month settles what digits leave open") {
    AdoptRules day;
    day.date_order = DateOrder::day_first;
    AdoptRules month;
    month.date_order = DateOrder::month_first;
    AdoptRules year;
    year.date_order = DateOrder::year_first;
    CHECK(read("05.06.2014 Holt Wedding", day) == "2014-06-05|Holt|Wedding|");
    CHECK(read("05.06.2014 Holt Wedding", month) == "2014-05-06|Holt|Wedding|");
    CHECK(read("140605 Holt Wedding", year) == "2014-06-05|Holt|Wedding|");
    CHECK(read("140605 Holt Wedding", day) == "2005-06-14|Holt|Wedding|");
    CHECK(read("21.06.2014 Holt Wedding", month) == "2014-06-21|Holt|Wedding|");
}

TEST_CASE("the studio's own patterns come first") {
    AdoptRules rules;
    rules.patterns = {"{date}_{clients}_{about}",
                      "{job_number} {about} @ {any} ({clients}) {date}"};
    CHECK(read("2014-06-21_Holt_Villa Marina", rules) == "2014-06-21|Holt|Villa Marina|");
    CHECK(read("2014-06-21_Holt & Quist_Wedding", rules) == "2014-06-21|Holt+Quist|Wedding|");
    CHECK(read("J77 Harbour day @ north quay (Marlowe) 2014-06-21", rules) ==
          "2014-06-21|Marlowe|Harbour day|J77");
    CHECK(read("2014-06-21 Holt wedding", rules) == "2014-06-21|Holt|wedding|");
    rules.occasions = {"launch"};
    CHECK(read("2014-06-21 Marlowe launch", rules) == "2014-06-21|Marlowe|launch|");
}

TEST_CASE("folders of sections, numbered or not") {
    const AdoptRules none;
    const auto is = [&](const char* name, std::optional<Section> section) {
        INFO(name);
        CHECK(job::section_of_folder(name, none) == section);
    };
    for (const char* name :
         {"originals", "RAW", "01_RAW", "1 - Raw files", "Raws", "02. Negatives"})
        is(name, Section::originals);
    for (const char* name : {"print", "Prints", "02_print", "High Res", "highres", "HIGH-RES",
                             "3 hi-res", "for print"})
        is(name, Section::print);
    for (const char* name : {"web", "Web files", "03-web", "low res", "LowRes", "for the web"})
        is(name, Section::web);
    for (const char* name : {"rejects", "Rejected", "04_rejects", "outtakes", "culled"})
        is(name, Section::rejects);
    for (const char* name :
         {"", "01", "jpg", "Final", "edited", "exports", "album", "misc", "raw web", "selects"})
        is(name, std::nullopt);
    AdoptRules own;
    own.sections[job::index(Section::print)] = {"Final", "jpg"};
    CHECK(job::section_of_folder("05 FINAL", own) == Section::print);
    CHECK(job::section_of_folder("JPG", own) == Section::print);
    own.sections[job::index(Section::web)] = {"jpg"};
    CHECK(job::section_of_folder("JPG", own) == std::nullopt);
}

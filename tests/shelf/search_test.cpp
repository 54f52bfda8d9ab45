#include "glassine/shelf/search.h"

#include "shelf/search_words.h"
#include "shelf/shelf_values.h"
#include "shelf/word_match.h"
#include "support/temp_folder.h"

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::shelf;
using namespace glassine::test;

namespace {

using Words = std::vector<std::string>;

struct Studio {
    test::TempFolder home;
    Register reg = make();

    Register make() {
        const io::Path path = home / "register.sqlite";
        Register::create(io::posix_file_system(), path);
        return Register(io::posix_file_system(), path);
    }
    void add(const char* name, const char* date, Words clients, const char* about,
             const char* frames = "KLA", const char* number = "") {
        BagRecord record = test::bag(name, "a", 0);
        record.clients = std::move(clients);
        record.shoot_date = day(date);
        record.description = about;
        record.number = number;
        record.payload.clear();
        record.rejected.clear();
        for (int i = 400; i < 420; ++i) {
            const std::string path = fmt::format("data/originals/{}_{:04}.NEF", frames, i);
            record.payload.push_back({path, content(name + path)});
        }
        reg.record_bag(record);
    }
    Words names(std::string_view words) {
        Words names;
        for (const SearchHit& hit : find_bags(reg, words))
            names.push_back(hit.bag.name);
        return names;
    }
};

void fill(Studio& studio) {
    studio.add("2025-09-06_okafor-lindqvist_sailing-gala", "2025-09-06", {"Okafor", "Lindqvist"},
               "Sailing gala", "KLA");
    studio.add("2024-05-11_muller_wedding", "2024-05-11", {"M\xC3\xBCller & S\xC3\xB8rensen"},
               "Wedding at the mill", "MUE", "J-2024-17");
    studio.add("2023-12-24_ohara_christmas", "2023-12-24", {"O'Hara"}, "Christmas party", "OHA");
    studio.add("2025-05-17_levi_bar-mitzvah", "2025-05-17", {"\xD7\x9C\xD7\x95\xD7\x99"},
               "Bar mitzvah", "LEV");
    studio.add("2025-09-06_nakamura_portraits", "2025-09-06", {"Nakamura"}, "Portraits", "NAK");
}

}  // namespace

TEST_CASE("words are cut where letters meet digits, numbers lose their zeros") {
    CHECK(search_words("KLA_0412") == Words{"kla", "412"});
    CHECK(search_words("kla0412.NEF") == Words{"kla", "412", "nef"});
    CHECK(search_words("2025-09-06") == Words{"2025", "9", "6"});
    CHECK(search_words("000") == Words{"0"});
    CHECK(search_words("O'Hara M\xC3\xBCller") == Words{"ohara", "muller"});
    CHECK(search_words(" .-_ ").empty());
}

TEST_CASE("words fit the better the closer they are") {
    CHECK(word_match("okafor", "okafor") == 1);
    CHECK(word_match("oka", "okafor") == 0.9);
    CHECK(word_match("kafo", "okafor") == 0.8);
    CHECK(word_match("okafer", "okafor") == 0.7);   // changed
    CHECK(word_match("okafr", "okafor") == 0.7);    // left out
    CHECK(word_match("okaffor", "okafor") == 0.7);  // put in
    CHECK(word_match("oakfor", "okafor") == 0.7);   // swapped
    CHECK(word_match("lindkwist", "lindqvist") == 0.55);
    CHECK(word_match("lundq", "lindqvist") == 0.5);
    CHECK(word_match("okafor", "nakamura") == 0);
    CHECK(word_match("cat", "car") == 0);
    CHECK(word_match("412", "4123") == 0);
    CHECK(word_match("412", "412") == 1);
    const std::string longest(200, 'x');
    CHECK(word_match(longest, longest + "y") == 0.9);
    CHECK(word_match(longest + "y", longest) == 0);
}

TEST_CASE("a job is found by client, date, description, number and frame") {
    Studio studio;
    fill(studio);
    const Words gala{"2025-09-06_okafor-lindqvist_sailing-gala"};
    CHECK(studio.names("okafor") == gala);
    CHECK(studio.names("LINDQVIST") == gala);
    CHECK(studio.names("sailing") == gala);
    CHECK(studio.names("gala 2025") == gala);
    CHECK(studio.names("2025-09-06 sail") == gala);
    CHECK(studio.names("september okafor") == gala);
    CHECK(studio.names("2024-17") == Words{"2024-05-11_muller_wedding"});
    CHECK(studio.names("mueller") == Words{"2024-05-11_muller_wedding"});
    CHECK(studio.names("muller sorensen") == Words{"2024-05-11_muller_wedding"});
    CHECK(studio.names("M\xC3\x9CLLER") == Words{"2024-05-11_muller_wedding"});
    CHECK(studio.names("ohara") == Words{"2023-12-24_ohara_christmas"});
    CHECK(studio.names("o'hara christmas") == Words{"2023-12-24_ohara_christmas"});
    CHECK(studio.names("\xD7\x9C\xD7\x95\xD7\x99") == Words{"2025-05-17_levi_bar-mitzvah"});
    CHECK(studio.names("kla 412") == gala);
    CHECK(studio.names("NAK_0405") == Words{"2025-09-06_nakamura_portraits"});
}

TEST_CASE("words half remembered still find the job") {
    Studio studio;
    fill(studio);
    const Words gala{"2025-09-06_okafor-lindqvist_sailing-gala"};
    CHECK(studio.names("okafer") == gala);
    CHECK(studio.names("linqvist sailng") == gala);
    CHECK(studio.names("lindkwist") == gala);
    CHECK(studio.names("okafor regatta") == gala);
    CHECK(studio.names("something else entirely").empty());
    CHECK(studio.names("").empty());
    CHECK(studio.names("'; DROP TABLE bags; --").empty());
    CHECK(studio.names("100%").empty());
}

TEST_CASE("the best hit comes first, then the latest shoot") {
    Studio studio;
    fill(studio);
    CHECK(studio.names("2025").size() == 3);
    CHECK(studio.names("2025").front().starts_with("2025-09-06"));
    CHECK(find_bags(studio.reg, "2025", 1).size() == 1);
    CHECK(find_bags(studio.reg, "okafor").front().score == 1);
}

TEST_CASE("frames that the words name are shown") {
    Studio studio;
    fill(studio);
    const auto hits = find_bags(studio.reg, "KLA_0412");
    REQUIRE(hits.size() == 1);
    CHECK(hits[0].frames == Words{"KLA_0412"});
    const auto all = find_bags(studio.reg, "415");
    CHECK(all.size() == 5);
    for (const SearchHit& hit : all)
        CHECK(hit.frames.size() == 1);
    CHECK(find_bags(studio.reg, "okafor").front().frames.empty());
    CHECK(find_bags(studio.reg, "kla").front().frames.size() == 5);
    CHECK(studio.names("kla 9999").size() == 1);
}

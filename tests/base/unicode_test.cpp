#include "glassine/base/text.h"

#include <string>
#include <thread>
#include <vector>

#include <catch2/catch.hpp>

using namespace glassine;

TEST_CASE("normalisation form C") {
    // Unicode Standard Annex #15, figures 3 to 6.
    CHECK(text::nfc("\u212B") == "\u00C5");
    CHECK(text::nfc("\u2126") == "\u03A9");
    CHECK(text::nfc("A\u030A") == "\u00C5");
    CHECK(text::nfc("o\u0302") == "\u00F4");
    CHECK(text::nfc("s\u0323\u0307") == "\u1E69");
    CHECK(text::nfc("s\u0307\u0323") == "\u1E69");
    CHECK(text::nfc("d\u0307\u0323") == "\u1E0D\u0307");
    CHECK(text::nfc("q\u0307\u0323") == "q\u0323\u0307");
    CHECK(text::nfc("\uFB01") == "\uFB01");
    CHECK(text::nfc("\u1112\u1161\u11AB") == "\uD55C");
    CHECK(text::nfc("plain.jpg") == "plain.jpg");
    CHECK(text::nfc("A\xCC") == "A\xCC");
}

TEST_CASE("names that differ only in case or normalisation are told to be the same") {
    // Unicode 15.0 CaseFolding.txt, full folding (C and F).
    CHECK(text::fold_case("STRASSE") == text::fold_case("Straße"));
    CHECK(text::fold_case("\uFB03") == "ffi");
    CHECK(text::fold_case("\u03A3\u03C3\u03C2") == "\u03C3\u03C3\u03C3");
    CHECK(text::fold_case("\u1E9E") == "ss");
    CHECK(text::fold_case("\u212A") == "k");
    CHECK(text::fold_case("ZOE\u0308") == text::fold_case("zo\u00EB"));
    CHECK(text::fold_case("\u00C5SA") == text::fold_case("a\u030Asa"));
    CHECK(text::fold_case("IMG_0042.DNG") == "img_0042.dng");
    CHECK(text::fold_case("zoe") != text::fold_case("zoë"));
    CHECK(text::fold_case("A\xFF") == "A\xFF");
}

TEST_CASE("names become portable ASCII") {
    CHECK(text::portable_ascii("Askvik & Tenbrook") == "askvik-tenbrook");
    CHECK(text::portable_ascii("Żółć Łęcka-Ångström") == "zolc-lecka-angstrom");
    CHECK(text::portable_ascii("Groß, Ærø, Œuvre, Þór, Đặng") == "gross-aero-oeuvre-thor-dang");
    CHECK(text::portable_ascii("O'Hara d\u2019Arc") == "ohara-darc");
    CHECK(text::portable_ascii("Ψαρά") == "psara");
    CHECK(text::portable_ascii("Цветаева") == "cvetaeva");
    CHECK(text::portable_ascii("東京") == "dong-jing");
    CHECK(text::portable_ascii("  --a__b..c--  ") == "a-b-c");
    CHECK(text::portable_ascii("../../etc/passwd") == "etc-passwd");
    CHECK(text::portable_ascii("😀🎉").empty());
    CHECK(text::portable_ascii("").empty());
    CHECK(text::portable_ascii("caf\xE9 noir") == "caf-noir");
}

TEST_CASE("half remembered names are found without accents") {
    CHECK(text::fold_for_search("Zoë  Žižka-Ångström") == "zoe zizka angstrom");
    CHECK(text::fold_for_search("O'Hara") == text::fold_for_search("O\u2019HARA"));
    CHECK(text::fold_for_search("2025-06-14_Regatta!") == "2025 06 14 regatta");
    CHECK(text::fold_for_search("STRASSE") == text::fold_for_search("Straße"));
    CHECK(text::fold_for_search("...").empty());
}

TEST_CASE("folding from several threads at once") {
    std::vector<std::thread> threads;
    std::vector<std::string> results(4);
    for (std::string& result : results)
        threads.emplace_back([&result] {
            for (int i = 0; i < 50; ++i)
                result = text::portable_ascii("Żółć Ångström") + text::fold_case("ÅSA");
        });
    for (std::thread& thread : threads)
        thread.join();
    for (const std::string& result : results)
        CHECK(result == "zolc-angstromåsa");
}

#include "glassine/photo/dcf.h"

#include <catch2/catch.hpp>

using namespace glassine::photo;

// Rules: DCF 2.0 (CIPA DC-009) as given in public descriptions of the standard; counting: computed.

TEST_CASE("DCF directory names are three digits and five free characters") {
    CHECK(dcf::parse_folder_name("100ABCDE") == dcf::FolderName{100, "ABCDE"});
    CHECK(dcf::parse_folder_name("999_d7r2") == dcf::FolderName{999, "_D7R2"});
    for (const char* none : {"099ABCDE", "000ABCDE", "100ABCD", "100ABCDEF", "1O0ABCDE", "100AB-DE",
                             "100AB DE", "", "DCIM"})
        CHECK_FALSE(dcf::parse_folder_name(none));
}

TEST_CASE("DCF file names are four free characters and a number from 0001 to 9999") {
    CHECK(dcf::parse_file_name("ABCD0001.JPG") == dcf::FileName{"ABCD", 1, "JPG"});
    CHECK(dcf::parse_file_name("_dsc9999.nef") == dcf::FileName{"_DSC", 9999, "NEF"});
    CHECK(dcf::parse_file_name("ABCD1234") == dcf::FileName{"ABCD", 1234, ""});
    CHECK(dcf::parse_file_name("12340042.x") == dcf::FileName{"1234", 42, "X"});
    for (const char* none : {"ABCD0000.JPG", "ABCD001.JPG", "ABCD00012.JPG", "ABCD000A.JPG",
                             "AB-D0001.JPG", "ABCD0001-2.jpg", "ABCD0001.JPG.xmp", ".JPG", "",
                             "\xc3\x84"
                             "CD0001.JPG"})
        CHECK_FALSE(dcf::parse_file_name(none));
}

TEST_CASE("a counter goes from 9999 to 0001") {
    // The table of the standard's counting rules: 9999 to 0001 is one step.
    STATIC_REQUIRE(dcf::steps(9999, 1) == 1);
    STATIC_REQUIRE(dcf::steps(9998, 1) == 2);
    STATIC_REQUIRE(dcf::steps(9998, 2) == 3);
    STATIC_REQUIRE(dcf::steps(1, 9999) == 9998);
    STATIC_REQUIRE(dcf::steps(17, 17) == 0);
    STATIC_REQUIRE(dcf::missing_between(9998, 2) == 2);
    STATIC_REQUIRE(dcf::missing_between(41, 42) == 0);
    STATIC_REQUIRE(dcf::missing_between(42, 42) == 0);
    STATIC_REQUIRE(dcf::next(9999) == 1);
    for (int a = 1; a <= 9999; a += 7)
        CHECK(dcf::steps(a, dcf::next(a)) == 1);
}

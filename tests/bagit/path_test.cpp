#include "glassine/bagit/path.h"

#include "support/temp_folder.h"

#include <string>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::bagit;

// Check values: RFC 8493 §2.1.3 with RFC 3986 percent-encoding.
TEST_CASE("paths are encoded as the standard says, and nothing else is") {
    CHECK(encode_path("a%b") == "a%25b");
    CHECK(encode_path("a\nb") == "a%0Ab");
    CHECK(encode_path("a\r\nb") == "a%0D%0Ab");
    CHECK(encode_path("100%25.txt") == "100%2525.txt");
    CHECK(encode_path("a é\\*#?b") == "a é\\*#?b");
    CHECK(decode_path("a%0ab%0Dc%25") == "a\nb\rc%");
}

TEST_CASE("a percent sign that is no escape is taken literally and noticed") {
    bool stray = false;
    for (const char* text : {"%", "a%", "a%2", "%41", "%00", "%2G", "%%", "a%20b"}) {
        INFO(text);
        CHECK(decode_path(text, &stray) == text);
        CHECK(stray);
    }
    CHECK(decode_path("%2525", &stray) == "%25");
    CHECK_FALSE(stray);
    CHECK(decode_path("%%25", &stray) == "%%");
    CHECK(stray);
}

TEST_CASE("every path survives encoding and decoding") {
    for (unsigned seed = 0; seed < 500; ++seed) {
        std::string path = test::noise(seed % 90, seed);
        for (std::size_t i = 0; i < path.size(); i += 3)
            path[i] = "%\n\r2505aAdD"[seed % 11];
        bool stray = false;
        const std::string written = encode_path(path);
        CHECK(written.find_first_of("\r\n") == std::string::npos);
        CHECK(decode_path(written, &stray) == path);
        CHECK_FALSE(stray);
    }
}

TEST_CASE("canonical paths") {
    for (const char* path : {"a", "data/a", "data/..a", "data/.a", "data/a.", "data/a/"})
        CHECK(is_canonical_path(path));
    const std::pair<const char*, const char*> odd[]{
        {"./data/a", "data/a"},     {"data/./a", "data/a"}, {"data//a", "data/a"},
        {"././data///a", "data/a"}, {"data/.", "data/"},    {".//data/a/./", "data/a/"}};
    for (const auto& [path, canonical] : odd) {
        CHECK_FALSE(is_canonical_path(path));
        CHECK(canonical_path(path) == canonical);
        CHECK(is_canonical_path(canonical_path(path)));
    }
}

TEST_CASE("paths that lead outside are known by their look") {
    for (const char* path :
         {"data/a", "data/..a/b", "data/a~", "data/~a", "data/a..", "data/C:a"}) {
        INFO(path);
        CHECK_FALSE(unsafe_path(path));
    }
    for (const std::string path :
         {"", "/a", "\\a", "~", "~a/b", "..", "../a", "a/../b", "a/..", "C:", "z:a", "a\\..\\b",
          "\\\\?\\C:\\a", "\\\\server\\share", "a/..\\b"}) {
        INFO(path);
        CHECK(unsafe_path(path));
    }
    CHECK(unsafe_path(std::string("a\0b", 3)));
}

// RFC 8493 §6.1: forbidden characters and device names of Windows.
TEST_CASE("names that cannot be kept everywhere") {
    for (const char* name :
         {"a", "IMG_0001.jpg", "Núñez", "COM10", "CONSOLE", "com", "lpt0", "nul1"}) {
        INFO(name);
        CHECK_FALSE(not_portable(name));
    }
    for (const char* name :
         {"a<", "a>", "a:b", "a\"", "a\\b", "a|b", "a?", "a*", "CON", "con.txt", "Aux",
          "NUL.tar.gz", "COM1", "lpt9.jpg", "a.", "a ", "a\tb", "\x7F", "a\xFF"}) {
        INFO(name);
        CHECK(not_portable(name));
    }
    CHECK_FALSE(not_portable(std::string(255, 'a')));
    CHECK(not_portable(std::string(256, 'a')));
    std::string umlauts;
    for (int i = 0; i < 200; ++i)
        umlauts += "ü";
    CHECK_FALSE(not_portable(umlauts));
}

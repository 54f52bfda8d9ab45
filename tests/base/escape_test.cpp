#include "glassine/base/text.h"
#include "support/program.h"

#include <string>
#include <string_view>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace std::string_literals;

TEST_CASE("what is well-formed UTF-8 and what is not") {
    // Unicode 15.0, table 3-7: first and last sequence of every row.
    for (const std::string_view good :
         {"\x7F", "\xC2\x80", "\xDF\xBF", "\xE0\xA0\x80", "\xE0\xBF\xBF", "\xE1\x80\x80",
          "\xEC\xBF\xBF", "\xED\x80\x80", "\xED\x9F\xBF", "\xEE\x80\x80", "\xEF\xBF\xBF",
          "\xF0\x90\x80\x80", "\xF0\xBF\xBF\xBF", "\xF1\x80\x80\x80", "\xF3\xBF\xBF\xBF",
          "\xF4\x80\x80\x80", "\xF4\x8F\xBF\xBF"}) {
        INFO(text::for_terminal(good));
        CHECK(text::is_utf8(good));
        CHECK(text::to_utf8(good) == good);
    }
    // One step outside each row: overlong forms, surrogates, beyond U+10FFFF, bare continuations.
    for (const std::string_view bad :
         {"\x80", "\xBF", "\xC0\x80", "\xC1\xBF", "\xC2", "\xC2\x7F", "\xE0\x9F\xBF",
          "\xED\xA0\x80", "\xED\xBF\xBF", "\xE1\x80", "\xF0\x8F\xBF\xBF", "\xF4\x90\x80\x80",
          "\xF5\x80\x80\x80", "\xF8\x88\x80\x80\x80", "\xFE", "\xFF"}) {
        INFO(text::for_terminal(bad));
        CHECK_FALSE(text::is_utf8(bad));
        CHECK(text::is_utf8(text::to_utf8(bad)));
    }
    CHECK(text::is_utf8(""));
    CHECK(text::is_utf8("\0"s));
}

TEST_CASE("ill-formed bytes become as many replacement characters as Unicode advises") {
    const auto replaced = [](std::string_view pattern) {
        std::string out;
        for (const char c : pattern)
            out += c == '?' ? "\xEF\xBF\xBD"s : std::string(1, c);
        return out;
    };
    // Unicode 15.0, tables 3-8 to 3-11.
    CHECK(text::to_utf8("\xC0\xAF\xE0\x80\xBF\xF0\x81\x82\x41") == replaced("????????A"));
    CHECK(text::to_utf8("\xED\xA0\x80\xED\xBF\xBF\xED\xAF\x41") == replaced("????????A"));
    CHECK(text::to_utf8("\xF4\x91\x92\x93\xFF\x41\x80\xBF\x42") == replaced("?????A??B"));
    CHECK(text::to_utf8("\xE1\x80\xE2\xF0\x91\x92\xF1\xBF\x41") == replaced("????A"));
}

TEST_CASE("a name can neither drive the terminal nor hide what it is") {
    CHECK(text::for_terminal("Zoë & Åsa/0042.DNG") == "Zoë & Åsa/0042.DNG");
    // The control sequences of ECMA-48 begin with ESC or, as one character, with C1 CSI (U+009B).
    CHECK(text::for_terminal("a\x1b[2Jb") == "a\\x1b[2Jb");
    CHECK(text::for_terminal("\xC2\x9B"
                             "31m") == "\\x9b31m");
    CHECK(text::for_terminal("\x9B"
                             "31m") == "\\x9b31m");
    CHECK(text::for_terminal("a\nb\rc\td\x07\x7F\0e"s) == "a\\nb\\rc\\td\\x07\\x7f\\x00e");
    // Explicit directional formatting characters (Unicode Standard Annex #9, table 1, section 2).
    CHECK(text::for_terminal("IMG_\u202Egnp.exe") == "IMG_\\u202egnp.exe");
    for (const std::string_view direction :
         {"\u061C", "\u200E", "\u200F", "\u202A", "\u202B", "\u202C", "\u202D", "\u202E", "\u2066",
          "\u2067", "\u2068", "\u2069"})
        CHECK(text::for_terminal(direction).starts_with("\\u"));
    // Characters without a shape, by which two names could look the same.
    for (const std::string_view unseen :
         {"\u00AD", "\u200B", "\u200D", "\u2028", "\u2029", "\u2060", "\u3164", "\uFEFF"})
        CHECK(text::for_terminal(unseen).starts_with("\\"));
    CHECK(text::for_terminal("\U000E0041") == "\\U000e0041");
    CHECK(text::for_terminal("caf\xE9") == "caf\\xe9");
}

TEST_CASE("nothing in a name becomes markup") {
    // The five characters that HTML 5 §13.2 gives a meaning to in text and quoted values.
    CHECK(text::for_html("<b title=\"x\" id='y'>&amp;</b>") ==
          "&lt;b title=&quot;x&quot; id=&#39;y&#39;&gt;&amp;amp;&lt;/b&gt;");
    CHECK(text::for_html("Zoë\tÅsa\n") == "Zoë\tÅsa\n");
    // XML 1.0 §2.2, production Char: neither C0 controls nor U+FFFE and U+FFFF (SVG is XML).
    for (const std::string& no_char : {"\0"s, "\x01"s, "\x1b"s, "\xEF\xBF\xBE"s, "\xEF\xBF\xBF"s})
        CHECK(text::for_html(no_char) == "\uFFFD");
    CHECK(text::for_html("a\u202Eb") == "a\uFFFDb");
    CHECK(text::for_html("\xFF<") == "\uFFFD&lt;");
    // An unfinished sequence does not swallow the quote after it.
    CHECK(text::for_html("\xE2\x80\"") == "\uFFFD&quot;");
}

TEST_CASE("a field keeps its place in a table") {
    // RFC 4180 §2, rules 5 to 7.
    CHECK(text::for_csv("aaa") == "aaa");
    CHECK(text::for_csv("b\r\nbb") == "\"b\r\nbb\"");
    CHECK(text::for_csv("b\"bb") == "\"b\"\"bb\"");
    CHECK(text::for_csv("a,b") == "\"a,b\"");
    CHECK(text::for_csv("") == "");
    CHECK(text::for_csv(" spaces are part of a field ") == " spaces are part of a field ");
    // Rule 5's TEXTDATA holds no controls; ill-formed bytes would break readers.
    CHECK(text::for_csv("a\x1b[2J\0b\x7F"s) == "a?[2J?b?");
    CHECK(text::for_csv("\xFF") == "\uFFFD");
}

TEST_CASE("a spreadsheet does not run a name as a formula") {
    // Common practice, no source: the first characters that spreadsheets evaluate.
    CHECK(text::for_csv("=1+1") == "'=1+1");
    CHECK(text::for_csv("+49") == "'+49");
    CHECK(text::for_csv("-5") == "'-5");
    CHECK(text::for_csv("@SUM(A1)") == "'@SUM(A1)");
    CHECK(text::for_csv("\t=1") == "'\t=1");
    CHECK(text::for_csv("\n=1") == "\"'\n=1\"");
    CHECK(text::for_csv("=HYPERLINK(\"x\",\"y\")") == "\"'=HYPERLINK(\"\"x\"\",\"\"y\"\")\"");
    CHECK(text::for_csv("2025-06-14") == "2025-06-14");
}

TEST_CASE("commands can be typed whatever the names are") {
    CHECK(text::for_shell("/mnt/shelf-07/2025-09-06_gala") == "/mnt/shelf-07/2025-09-06_gala");
    CHECK(text::for_shell("/mnt/SHELF 07") == "'/mnt/SHELF 07'");
    CHECK(text::for_shell("O'Hara") == "'O'\\''Hara'");
    CHECK(text::for_shell("") == "''");
    CHECK(text::for_shell("-rf") == "./-rf");
    CHECK(text::for_shell("-r f") == "'./-r f'");
    CHECK(text::for_shell("a\nb'c\\") == "$'a\\x0ab\\'c\\\\'");
    CHECK(text::for_shell("$(reboot)") == "'$(reboot)'");
}

// The shell itself (POSIX, and bash for names with control characters) reads the word back.
TEST_CASE("a path in a command is one word to the shell, whatever it holds") {
    for (const std::string path : {"/mnt/a", "/mnt/a b", "it's", "$HOME", "`id`", "a\nb", "-x",
                                   "\x1b[2J'\\", "*", "~", "", "ü"}) {
        const auto ended = test::run({"bash", "-c", "printf '<%s>' " + text::for_shell(path)});
        CHECK(ended.out == (path == "-x" ? "<./-x>" : "<" + path + ">"));
    }
}

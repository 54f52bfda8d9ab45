#include "glassine/bagit/text_lines.h"

#include <string>
#include <vector>

#include <catch2/catch.hpp>

using namespace glassine::bagit;

namespace {

struct Met {
    std::vector<std::string> lines;
    std::vector<Line> facts;
    bool marked = false;
};

Met read(std::string_view text, std::size_t step, const std::string& encoding = "UTF-8",
         std::size_t longest = 1000) {
    Met met;
    LineReader reader(encoding_named(encoding), longest, [&](const Line& line) {
        met.lines.emplace_back(line.text);
        met.facts.push_back(line);
    });
    for (std::size_t at = 0; at < text.size(); at += step)
        reader.feed(text.substr(at, step));
    reader.finish();
    met.marked = reader.marked();
    return met;
}

std::string utf16(std::u16string_view text, bool high_first, bool mark) {
    std::string out;
    const auto put = [&](char16_t c) {
        const char high = static_cast<char>(c >> 8);
        const char low = static_cast<char>(c & 0xFF);
        out += high_first ? high : low;
        out += high_first ? low : high;
    };
    if (mark) put(0xFEFF);
    for (const char16_t c : text)
        put(c);
    return out;
}

}  // namespace

// RFC 8493 §2.3-2: lines end in LF, CR or CRLF.
TEST_CASE("lines are the same however the bytes arrive") {
    const std::string text = "one\ntwo\r\nthree\rfour\n\nfünf\r\r\nsix";
    const std::vector<std::string> lines{"one", "two", "three", "four", "", "fünf", "", "six"};
    for (std::size_t step = 1; step <= text.size(); ++step) {
        INFO("in pieces of " << step);
        const Met met = read(text, step);
        CHECK(met.lines == lines);
        for (std::size_t i = 0; i < met.facts.size(); ++i) {
            CHECK(met.facts[i].number == i + 1);
            CHECK(met.facts[i].ended == (i + 1 < lines.size()));
            CHECK_FALSE(met.facts[i].ill_formed);
            CHECK(text.substr(*met.facts[i].offset, lines[i].size()) == lines[i]);
        }
    }
}

TEST_CASE("a byte order mark is no text") {
    for (std::size_t step = 1; step < 6; ++step) {
        const Met met = read(
            "\xEF\xBB\xBF"
            "a\nb",
            step);
        CHECK(met.lines == std::vector<std::string>{"a", "b"});
        CHECK(met.marked);
        CHECK(met.facts[0].offset == 3);
        CHECK(met.facts[1].offset == 5);
    }
    CHECK(read("\xEF\xBB\xBF", 1).lines.empty());
    CHECK(read("\xEF\xBB", 1).facts[0].ill_formed);
    CHECK(read("", 1).lines.empty());
}

TEST_CASE("long lines keep their beginning and cost no memory") {
    for (const std::size_t step : {1u, 7u, 100u}) {
        const Met met = read("0123456789\n01234567890\n" + std::string(300, 'x') + "\nend\n", step,
                             "UTF-8", 10);
        CHECK(met.lines ==
              std::vector<std::string>{"0123456789", "0123456789", "xxxxxxxxxx", "end"});
        CHECK_FALSE(met.facts[0].too_long);
        CHECK(met.facts[1].too_long);
        CHECK(met.facts[2].too_long);
        CHECK(met.facts[3].offset == 324);
    }
}

TEST_CASE("ill-formed bytes mark their line and no other") {
    for (const std::size_t step : {1u, 3u, 64u}) {
        const Met met = read(
            "good\nb\xFF\x61"
            "d\nü\n\xC3\nend\n",
            step);
        REQUIRE(met.facts.size() == 5);
        CHECK_FALSE(met.facts[0].ill_formed);
        CHECK(met.facts[1].ill_formed);
        CHECK_FALSE(met.facts[2].ill_formed);
        CHECK(met.facts[3].ill_formed);
        CHECK_FALSE(met.facts[4].ill_formed);
    }
}

TEST_CASE("a hole tears one line and spares the others") {
    std::vector<std::string> whole;
    std::size_t torn = 0;
    LineReader reader(encoding_named("UTF-8"), 100, [&](const Line& line) {
        if (line.torn)
            ++torn;
        else
            whole.emplace_back(line.text);
    });
    reader.feed("one\ntwo\nthr");
    reader.gap(4096);
    reader.feed("ix\nseven\n");
    reader.finish();
    CHECK(whole == std::vector<std::string>{"one", "two", "seven"});
    CHECK(torn == 1);
}

// The encodings themselves are ICU's matter; RFC 8493 §2.1.1-3 lets a bag use any.
TEST_CASE("other encodings become UTF-8") {
    const std::u16string_view text = u"Núñez\r\n日本\n𝄞\n";
    const std::vector<std::string> lines{"Núñez", "日本", "𝄞"};
    for (const std::size_t step : {1u, 2u, 3u, 5u, 1000u}) {
        CHECK(read(utf16(text, true, true), step, "UTF-16").lines == lines);
        CHECK(read(utf16(text, false, true), step, "UTF-16").lines == lines);
        CHECK(read(utf16(text, true, false), step, "UTF-16").lines == lines);
        CHECK(read(utf16(text, true, false), step, "UTF-16BE").lines == lines);
        CHECK(read(utf16(text, false, false), step, "UTF-16LE").lines == lines);
        CHECK(read(utf16(text, false, true), step, "UTF-16LE").lines == lines);
        CHECK(read("N\xFA\xF1"
                   "ez\r\n",
                   step, "ISO-8859-1")
                  .lines == std::vector<std::string>{"Núñez"});
        CHECK(read("\x93\xFA\x96\x7B\n", step, "Shift_JIS").lines ==
              std::vector<std::string>{"日本"});
    }
    CHECK(read(utf16(text, true, true), 1, "UTF-16").marked);
    CHECK(read(utf16(text, false, true), 1, "UTF-16").marked);
    CHECK_FALSE(read(utf16(text, true, false), 1, "UTF-16").marked);
    CHECK(read(utf16(text, false, true), 1, "UTF-16LE").marked);
    const std::string_view lone_surrogate("\0a\xD8\0\0b\0\n", 8);
    const std::string_view cut("\0a\0\n\0", 5);
    for (const std::size_t step : {1u, 2u, 8u}) {
        CHECK(read(lone_surrogate, step, "UTF-16BE").facts[0].ill_formed);
        CHECK(read(cut, step, "UTF-16BE").facts.back().ill_formed);
    }
    // U+FFFD is a character like any other (The Unicode Standard, §23.8), whatever the next line
    // has.
    const std::string_view replacement("\xFF\xFD\0\n\xDC\0\0\n", 8);
    for (const std::size_t step : {1u, 2u, 8u}) {
        const auto met = read(replacement, step, "UTF-16BE");
        CHECK_FALSE(met.facts[0].ill_formed);
        CHECK(met.facts[1].ill_formed);
        CHECK(met.lines == std::vector<std::string>{"\xEF\xBF\xBD", "\xEF\xBF\xBD"});
    }
}

TEST_CASE("what is known of an encoding") {
    CHECK(encoding_named("utf-8").utf8);
    CHECK(encoding_named("UTF-16").needs_mark);
    CHECK_FALSE(encoding_named("UTF-16LE").needs_mark);
    CHECK(encoding_named("ISO-8859-15").registered);
    for (const char* name : {"", "NOWHERE-7", "../x", "UTF-8,version=1", "ibm-943/../../x", "a\nb"})
        CHECK_FALSE(encoding_named(name).known);
    CHECK_FALSE(encoding_named(std::string(5000, 'a')).known);
}

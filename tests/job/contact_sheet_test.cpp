#include "glassine/job/contact_sheet.h"

#include "glassine/base/text.h"
#include "job/contact_sheet_style.h"
#include "seeded_job.h"
#include "support/temp_folder.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include <catch2/catch.hpp>

using namespace glassine;

namespace {

job::SheetHead head() {
    return {"Lantern Quay Photographs",
            {"Okafor", "Lindqvist"},
            "Sailing gala",
            "2025-09-06",
            "2025-09-06_okafor-lindqvist_sailing-gala",
            "© Lantern Quay Photographs"};
}

std::string sheet_of(const test::SeededJob& job, const job::SheetHead& head) {
    const auto accounting = job.account();
    const auto rows = job::frame_rows(job.files, job.observed, accounting);
    std::vector<std::string> thumbnails;
    for (std::size_t i = 0; i < rows.size(); ++i)
        thumbnails.push_back(job::thumbnail_name(i));
    thumbnails.back().clear();
    return job::contact_sheet(head, accounting, rows, thumbnails);
}

std::size_t count(std::string_view text, std::string_view part) {
    std::size_t n = 0;
    for (std::size_t at = text.find(part); at != std::string_view::npos;
         at = text.find(part, at + part.size()))
        ++n;
    return n;
}

/// "--name: #rrggbb" of one block of the style.
std::map<std::string, std::array<int, 3>> colours(std::string_view block) {
    std::map<std::string, std::array<int, 3>> found;
    for (std::size_t at = block.find("--"); at != std::string_view::npos;
         at = block.find("--", at + 2)) {
        const std::size_t colon = block.find(": #", at);
        const std::size_t end = block.find(';', at);
        if (colon == std::string_view::npos || end == std::string_view::npos || colon > end) break;
        std::string hex(block.substr(colon + 3, end - colon - 3));
        if (hex.size() == 3) hex = {hex[0], hex[0], hex[1], hex[1], hex[2], hex[2]};
        std::vector<std::byte> bytes;
        REQUIRE(text::from_hex(hex, bytes));
        found[std::string(block.substr(at + 2, colon - at - 2))] = {
            static_cast<int>(bytes[0]), static_cast<int>(bytes[1]), static_cast<int>(bytes[2])};
    }
    return found;
}

// WCAG 2.1: relative luminance and contrast ratio.
double luminance(const std::array<int, 3>& rgb) {
    const auto linear = [](int value) {
        const double c = value / 255.0;
        return c <= 0.03928 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
    };
    return 0.2126 * linear(rgb[0]) + 0.7152 * linear(rgb[1]) + 0.0722 * linear(rgb[2]);
}

double contrast(const std::array<int, 3>& a, const std::array<int, 3>& b) {
    const double one = luminance(a);
    const double other = luminance(b);
    return (std::max(one, other) + 0.05) / (std::min(one, other) + 0.05);
}

}  // namespace

TEST_CASE("a contact sheet shows every frame once, under its heading") {
    test::SeededJob job = test::clean_job();
    job.remove("originals/QX2_9991.DNG");
    job.remove("originals/QX2_9991.xmp");
    job.remove("rejects/VESP0442.DNG");
    job.remove("rejects/VESP0442.JPG");
    job.at("originals/VESP0440.DNG").picture.verdict = photo::Verdict::broken;
    const std::string html = sheet_of(job, head());
    CHECK(html.starts_with("<!DOCTYPE html>\n<html lang=\"en\">"));
    CHECK(html.find("<h1>Okafor &amp; Lindqvist: Sailing gala</h1>") != std::string::npos);
    CHECK(html.find("Kept frames <small>45 frames</small>") != std::string::npos);
    CHECK(html.find("Rejected frames <small>13 frames</small>") != std::string::npos);
    CHECK(html.find("Delivered without a kept original <small>1 frame</small>") !=
          std::string::npos);
    CHECK(html.find("Missing numbers <small>1 number</small>") != std::string::npos);
    CHECK(count(html, "<strong>QX2_9990</strong>") == 1);
    CHECK(count(html, "<figcaption>") == 45 + 13 + 1 + 1);
    CHECK(count(html, "<img ") == 58);
    CHECK(count(html, " alt=\"Frame ") == 58);
    CHECK(count(html, "no picture</div>") == 1);
    CHECK(html.find("<span class=\"mark\">broken: VESP0440.DNG</span>") != std::string::npos);
    CHECK(html.find("<strong>VESP0442</strong>") != std::string::npos);
    CHECK(html.find("between VESP0441 and VESP0443") != std::string::npos);
    CHECK(html.find("<span>okafor-gala-001.jpg: <a href=\"../data/print/okafor-gala-001.jpg\" "
                    "aria-label=\"print okafor-gala-001.jpg\">print</a> · <a ") !=
          std::string::npos);
}

TEST_CASE("a contact sheet has no script and leads nowhere outside the bag") {
    const std::string html = sheet_of(test::clean_job(), head());
    CHECK(html.find("<script") == std::string::npos);
    CHECK(html.find("://") == std::string::npos);
    CHECK(html.find("=\"//") == std::string::npos);
    CHECK(html.find("@import") == std::string::npos);
    CHECK(html.find("url(") == std::string::npos);
    for (std::size_t at = html.find("href=\""); at != std::string::npos;
         at = html.find("href=\"", at + 1)) {
        const std::string_view link = std::string_view(html).substr(at + 6, 8);
        CAPTURE(link);
        CHECK((link.starts_with("../data/") || link.starts_with("#")));
    }
}

TEST_CASE("hostile names do not get out of their place in the page") {
    test::SeededJob job = test::clean_job();
    const std::string evil = "<script>alert(1)</script>\"'&";
    job.rename("web/okafor-gala-001.jpg", "a\"><img src=x onerror=alert(1)>.jpg");
    job.rename("print/okafor-gala-002.jpg", "javascript:alert(1).jpg");
    job.rename("print/okafor-gala-003.jpg", "\xff\u202egpj.jpg");
    for (job::Observed& one : job.observed)
        if (one.picture.model == "V7") one.picture.serial = evil;
    job::SheetHead evil_head{evil, {evil}, evil, evil, evil, evil};
    const std::string html = sheet_of(job, evil_head);
    CHECK(html.find("<script") == std::string::npos);
    CHECK(html.find("<img src=x") == std::string::npos);
    CHECK(html.find("href=\"javascript") == std::string::npos);
    CHECK(html.find("\u202e") == std::string::npos);
    CHECK(text::is_utf8(html));
    CHECK(
        html.find("href=\"../data/web/a%22%3E%3Cimg%20src%3Dx%20onerror%3Dalert%281%29%3E.jpg\"") !=
        std::string::npos);
}

// WCAG 2.1 §1.4.3 (AA): 4.5 to 1 for text; §1.4.11: 3 to 1 for outlines that carry meaning.
TEST_CASE("text and outlines have enough contrast, in light and dark and in print") {
    const std::string_view style = job::contact_sheet_style;
    const std::size_t dark = style.find("prefers-color-scheme: dark");
    const std::size_t print = style.find("@media print");
    REQUIRE(print > dark);
    for (const std::string_view block :
         {style.substr(0, dark), style.substr(dark, style.find("}", dark) - dark),
          style.substr(print, style.find("}", print) - print)}) {
        auto colour = colours(block);
        REQUIRE(colour.size() == 8);
        CHECK(contrast(colour["ink"], colour["paper"]) >= 4.5);
        CHECK(contrast(colour["faint"], colour["paper"]) >= 4.5);
        CHECK(contrast(colour["faint"], colour["mount"]) >= 4.5);
        CHECK(contrast(colour["link"], colour["paper"]) >= 4.5);
        CHECK(contrast(colour["alarm"], colour["alarm-paper"]) >= 4.5);
        CHECK(contrast(colour["alarm"], colour["mount"]) >= 3);
        CHECK(contrast(colour["rule"], colour["mount"]) >= 3);
    }
}

TEST_CASE("days are told when there is more than one") {
    test::SeededJob job = test::clean_job();
    CHECK(sheet_of(job, head()).find(">10:00:00</time>") != std::string::npos);
    for (job::Observed& one : job.observed)
        if (one.picture.model == "V7") one.picture.captured->local += std::chrono::hours(24);
    CHECK(sheet_of(job, head()).find(">2025-09-06 10:00:00</time>") != std::string::npos);
}

TEST_CASE("a body whose numbers follow no counting has a question mark in the table") {
    test::SeededJob job;
    test::Camera camera{"Quillon", "QX-2", "", "QX2_", 1};
    for (int k = 0; k < 60; ++k) {  // quadratic residues: as good as random
        camera.number = k * k * 157 % 9973 + 1;
        const auto picture =
            test::SeededJob::shot(camera, test::clean_moment(0, 0) + k * std::chrono::minutes(4));
        job.add(job::Section::originals, test::next_name(camera), picture);
    }
    const std::string page = sheet_of(job, head());
    CHECK(count(page, "<td>0?</td>") == 1);
    CHECK(count(page, "<p>?: ") == 1);
    CHECK(count(sheet_of(test::clean_job(), head()), "?</td>") == 0);
}

TEST_CASE("a sheet of nothing is a page all the same") {
    const std::string html = job::contact_sheet({}, job::account({}, {}, {}), {}, {});
    CHECK(html.find("</html>") != std::string::npos);
}

TEST_CASE("thumbnails are numbered by frame and made of what is best") {
    CHECK(job::thumbnail_name(0) == "thumbnails/0001.jpg");
    CHECK(job::thumbnail_name(12344) == "thumbnails/12345.jpg");
    job::Frame frame;
    frame.originals = {3};
    frame.web = {1};
    frame.rejected = {2};
    CHECK(job::thumbnail_sources(frame) == std::vector<std::size_t>{3, 2, 1});
}

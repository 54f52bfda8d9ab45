#include "glassine/job/gallery_page.h"

#include <catch2/catch.hpp>

using namespace glassine;

TEST_CASE("a gallery runs no script, fetches nothing and escapes every name") {
    job::SheetHead head;
    head.clients = {"Holt <b>", "Brandvik"};
    head.about = "gala \"2014\"";
    std::vector<job::GalleryPicture> pictures(2);
    pictures[0].name = "<script>alert(1)</script>";
    pictures[0].thumbnail = "thumbnails/0001.jpg";
    pictures[0].files = {{"web", "web/a b\"<.jpg"}, {"print", "print/x.tif"}};
    pictures[1].name = "two";
    pictures[1].files = {{"print", "print/two.tif"}};
    const std::string page = job::gallery_page(head, pictures);
    CHECK(page.find("<script") == std::string::npos);
    CHECK(page.find("http:") == std::string::npos);
    CHECK(page.find("https:") == std::string::npos);
    CHECK(page.find("default-src 'none'") != std::string::npos);
    CHECK(page.find("Holt &lt;b&gt; &amp; Brandvik: gala &quot;2014&quot;") != std::string::npos);
    CHECK(page.find("href=\"web/a%20b%22%3C.jpg\"") != std::string::npos);
    CHECK(page.find("src=\"thumbnails/0001.jpg\"") != std::string::npos);
    CHECK(page.find("2 pictures") != std::string::npos);
    CHECK(page.find("mount absent") != std::string::npos);
}

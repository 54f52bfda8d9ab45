#include "glassine/report/certificate.h"

#include "glassine/base/text.h"

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::report;

namespace {

CloseoutResult sealed() {
    CloseoutResult r;
    r.finished = *parse_rfc3339("2026-11-25T10:00:00Z");
    r.bag_name = "2025-06-14_holt_gala";
    r.seal = std::string(120, 'a').append("0123abcd");
    r.files = 5;
    r.bytes = 12'000'000;
    r.sections = {{job::Section::originals, 3, 10'000'000, 2},
                  {job::Section::web, 2, 2'000'000, 2}};
    r.copies = {
        {"/mnt/a", "/mnt/a/2025-06-14_holt_gala", "", true, "read back from the medium", ""},
        {"/mnt/b", "", "", false, "", "the drive is full"}};
    r.rejected_raws = {"rejects/a.DNG"};
    return r;
}

bool contains(std::string_view text, std::string_view part) {
    return text.find(part) != std::string_view::npos;
}

}  // namespace

TEST_CASE("a certificate tells the job, its copies, its seal and how to check them") {
    CertificateHead head;
    head.studio = "Kittiwake Row";
    head.clients = {"Maren Holt"};
    head.about = "Gala";
    head.shoot_date = "2025-06-14";
    head.drives = {"Model 9, serial 77", ""};
    const std::string page = certificate_page(sealed(), head);
    for (const char* part :
         {"sealed on 2026-11-25", "2 originals, 2 web pictures", "One copy was read back whole",
          "<td>Maren Holt</td>", "Model 9, serial 77", "aaaaaaaa 0123abcd",
          "no copy: the drive is full", "1 rejected raw", "sha512sum --check", "Signature"})
        CHECK(contains(page, part));
    CHECK_FALSE(contains(page, "Job number"));
    CHECK_FALSE(contains(page, "Promised"));
    CHECK_FALSE(contains(page, "://"));
    CHECK_FALSE(contains(page, "<script"));
    head.promised_until = "2028-06-14";
    head.keep_until = "2040-06-14";
    const std::string dated = certificate_page(sealed(), head);
    CHECK(contains(dated, "Promised until</th><td>2028-06-14"));
    CHECK(contains(dated, "To be kept until</th><td>2040-06-14"));
}

TEST_CASE("hostile names stay text on a certificate") {
    const std::string evil = "\"><script>alert(1)</script>\x1b[2J\xff";
    CloseoutResult r = sealed();
    r.bag_name = evil;
    r.copies[0].path = evil;
    r.copies[1].failure = evil;
    r.accepted = {evil};
    const std::string page =
        certificate_page(r, {evil, evil, {evil, evil}, evil, evil, evil, evil, evil, {evil, evil}});
    CHECK_FALSE(contains(page, "<script"));
    CHECK_FALSE(contains(page, "\x1b"));
    CHECK(text::is_utf8(page));
}

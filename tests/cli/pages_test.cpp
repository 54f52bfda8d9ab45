#include "cli/glassine.h"

using namespace glassine::test;
namespace fs = std::filesystem;

TEST_CASE("an audit writes its page beside what it says") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    const fs::path page = home / "audit.html";
    const auto good = home.glassine({"audit", bag.string(), "--html", page.string(), "--json"});
    CHECK(good.code == 0);
    CHECK(json_of(good).at("outcome") == "ok");
    CHECK(contains(content_of(page), "The bag is whole"));
    // Nothing is replaced, and that is said before hours of reading.
    const auto again = home.glassine({"audit", bag.string(), "--html", page.string()});
    CHECK(again.code == 3);
    CHECK(again.out.empty());
    CHECK(contains(again.err, "nothing is ever replaced"));
    CHECK_FALSE(contains(again.err, "Checking"));
    fs::resize_file(bag / "data/web/GLS_0001.jpg", 300);
    const fs::path second = home / "second.html";
    CHECK(home.glassine({"audit", bag.string(), "--html", second.string(), "-q"}).code == 1);
    CHECK(contains(content_of(second), "1 of 1 bag needs attention. 1 file is damaged or lost"));
    CHECK(contains(content_of(second), "data:image/jpeg;base64,"));
}

TEST_CASE("a close-out writes its certificate when something was sealed, and only then") {
    const Home home;
    const fs::path page = home / "certificate.html";
    const Arguments with{"--certificate", page.string(), "--quiet", "--job-number", "K-17"};
    auto dry = with;
    dry.emplace_back("--dry-run");
    CHECK(home.glassine(Home::closeout(home.job(), {home.drive("a")}, dry)).code == 0);
    CHECK_FALSE(fs::exists(page));
    CHECK(home.glassine(Home::closeout(home.job(), {home.drive("a")}, with)).code == 0);
    const std::string html = content_of(page);
    CHECK(contains(html, "<td>Maren Holt, Tomas Brandvik</td>"));
    CHECK(contains(html, "<td>K-17</td>"));
    CHECK(contains(html, (home / "a" / bag_name).string()));
    // The seal on paper is what coreutils' sha512sum prints for the tag manifest.
    const auto sum =
        run({"sha512sum", (home / "a" / bag_name / "tagmanifest-sha512.txt").string()});
    for (std::size_t at = 0; at < 128; at += 8)
        CHECK(contains(html, sum.out.substr(at, 8)));
    // What it says about checking without Glassine is true.
    const auto check =
        run({"sha512sum", "--check", "--quiet", "tagmanifest-sha512.txt", "manifest-sha512.txt"},
            home / "a" / bag_name);
    CHECK(check.code == 0);
    CHECK(check.out.empty());
    // A place that is taken is told before anything is written.
    const auto again = home.glassine(Home::closeout(home.job(), {home.drive("b")}, with));
    CHECK(again.code == 3);
    CHECK(fs::is_empty(home / "b"));
}

namespace {

/// What a client may be called, and a file: markup, quotes, a spreadsheet's formula, letters that
/// turn the direction of writing, a line break, an escape that clears the screen.
const std::string hostile_client = "<script>alert(1)</script>\"'&=cmd|' /C calc'!A0";
const std::string hostile_file = "\xe2\x80\xaegpj.<img src=x onerror=alert(2)>\n\x1b[2J.jpg";

void check_terminal(const std::string& text) {
    CHECK_FALSE(contains(text, "\x1b"));
    CHECK_FALSE(contains(text, "\xe2\x80\xae"));
}

void check_page(const fs::path& file) {
    CAPTURE(file);
    const std::string html = content_of(file);
    CHECK_FALSE(contains(html, "<script>alert"));
    CHECK_FALSE(contains(html, "<img src=x"));
    check_terminal(html);
}

/// RFC 4180 §2: each row of a frames.csv has as many fields as its head, and no field begins like a
/// formula. By Python's csv module.
bool is_safe_csv(const fs::path& file) {
    return run({"python3", "-c",
                "import csv, sys\n"
                "rows = list(csv.reader(open(sys.argv[1], newline='', encoding='utf-8')))\n"
                "assert len({len(row) for row in rows}) == 1 and len(rows) > 3\n"
                "assert not any(field[:1] in set('=+-@') for row in rows for field in row)\n",
                file.string()})
               .code == 0;
}

}  // namespace

TEST_CASE("hostile names of clients and files come out harmless everywhere") {
    const Home home;
    const fs::path job = home.job();
    fs::copy(job / "web/GLS_0001.jpg", job / "web" / hostile_file);
    for (const char* form : {"--json", "--color=never"}) {
        const auto look = home.glassine({"preflight", job.string(), form});
        CHECK(look.code <= 1);
        CHECK(contains(look.out, "name-not-portable"));
        check_terminal(look.out + look.err);
    }
    fs::remove(job / "web" / hostile_file);

    for (const char* name : {"a", "b"})
        REQUIRE(home.glassine({"shelf", "add", home.drive(name).string(), "--label", hostile_client,
                               "--place", hostile_file, "--kind", "drive"})
                    .code == 0);
    const auto closed =
        home.glassine({"closeout", job.string(), "--to", (home / "a").string(), "--to",
                       (home / "b").string(), "--client", hostile_client, "--date", "2025-06-14",
                       "--about", hostile_client, "--job-number", "=1+1", "--certificate",
                       (home / "certificate.html").string(), "--recovery", "none"});
    INFO(closed.out << closed.err);
    REQUIRE(closed.code == 0);
    check_terminal(closed.out + closed.err);
    fs::path bag;
    for (const auto& entry : fs::directory_iterator(home / "a"))
        if (entry.is_directory()) bag = entry.path();
    CHECK(is_safe_csv(bag / "photo-index/frames.csv"));
    const auto handed = home.glassine({"restore", bag.string(), "--to", (home / "out").string(),
                                       "--section", "web", "--gallery"});
    CHECK(handed.code == 0);

    write_file(bag / "data/web" / hostile_file, "nobody sealed this");
    write_file(home / "a" / hostile_file, "nor this");
    for (const Arguments& command :
         {Arguments{"audit", (home / "a").string(), "--html", (home / "audit.html").string()},
          Arguments{"inspect", bag.string()},
          Arguments{"migrate", (home / "a").string(), "--to", home.drive("c").string(), "--html",
                    (home / "statement.html").string()},
          Arguments{"shelf", "list"}, Arguments{"shelf", "due"}, Arguments{"shelf", "find", "gala"},
          Arguments{"shelf", "overview", "--html", (home / "overview.html").string()},
          Arguments{"shelf", "label", (home / "a").string(), "--html",
                    (home / "labels.html").string()},
          Arguments{"shelf", "label", (home / "b").string(), "--svg",
                    (home / "label.svg").string()}}) {
        CAPTURE(command[0], command[1]);
        const auto ended = home.glassine(command);
        CHECK(ended.code <= 1);
        check_terminal(ended.out + ended.err);
    }
    for (const Arguments& command :
         {Arguments{"audit", bag.string()}, Arguments{"shelf", "list"}}) {
        Arguments with = command;
        with.emplace_back("--json");
        CHECK(json_of(home.glassine(with)).at("command").is_string());
    }
    for (const char* page : {"certificate.html", "audit.html", "statement.html", "overview.html",
                             "labels.html", "label.svg", "out/index.html"})
        check_page(home / page);
    check_page(bag / "photo-index/contact-sheet.html");
}

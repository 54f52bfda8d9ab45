#include "glassine/base/text.h"
#include "glassine/base/version.h"
#include "glassine/report/migrate_result.h"
#include "report/html.h"

namespace glassine::report {
namespace {

constexpr std::string_view statement_style = R"css(
body { max-width: 64rem; }
h2 { overflow-wrap: anywhere; }
table { width: 100%; }
td.bad { color: var(--alarm); font-weight: 600; }
@media (max-width: 40rem) { table { min-width: 38rem; } }
)css";

std::string_view what_became(const MigratedBag& bag) {
    switch (bag.fate) {
        case Fate::carried:
            return "carried, bit for bit";
        case Fate::upgraded:
            return "made anew as a BagIt 1.0 bag";
        case Fate::adopted:
            return "closed out";
        case Fate::already:
            return "there already";
        case Fate::damaged:
            return "carried with damage";
        case Fate::failed:
            break;
    }
    return "no proven copy";
}

void statement_head(Html& out, const MigrateResult& result) {
    out.put(
        "<header>\n<h1>Statement of retirement</h1>\n<p>Carried to {}</p>\n<p>From {} to {}</p>\n"
        "</header>\n",
        result.target, moment_words(result.started), moment_words(result.finished));
}

void bags_of(Html& out, const RetiredSource& source, const MigrateResult& result) {
    out.put(
        "<div class=\"wide\" role=\"region\" aria-label=\"Bags of {}\" tabindex=\"0\">\n"
        "<table class=\"left\">\n<thead><tr><th scope=\"col\">What it held</th>"
        "<th scope=\"col\" class=\"number\">Files</th><th scope=\"col\">What became of it</th>"
        "<th scope=\"col\">Where it is now</th>"
        "<th scope=\"col\" class=\"number\">Proven copies</th></tr></thead>\n<tbody>\n",
        source.path);
    for (const MigratedBag& bag : result.bags) {
        if (bag.drive != source.path) continue;
        out.put("<tr><th scope=\"row\">{}</th><td class=\"number\">{}</td>", bag.source,
                text::grouped(bag.files));
        out.put("<td{}>{}</td><td>{}</td>", Markup{arrived(bag.fate) ? "" : " class=\"bad\""},
                what_became(bag), bag.path.empty() ? bag.failure : bag.path);
        out.put("<td class=\"number\">{} of {}</td></tr>\n", bag.copies, result.copies_wanted);
    }
    out.put("</tbody>\n</table>\n</div>\n");
}

void left_on(Html& out, const RetiredSource& source) {
    if (source.left.empty()) return;
    out.put("<h3>For a person to decide</h3>\n<ul>\n");
    for (const Finding& f : source.left)
        out.put("<li><strong>{}</strong> {}: {}</li>\n", f.path, word(f.kind), f.detail);
    out.put("</ul>\n");
}

void named(Html& out, std::string_view title, const std::vector<std::string>& paths) {
    if (paths.empty()) return;
    constexpr std::size_t few = 20;  // more are not printed on paper, unless they are opened
    out.put("<details{}><summary>{} ({})</summary>\n<ul>\n",
            Markup{paths.size() <= few ? " open" : ""}, title, text::grouped(paths.size()));
    for (const std::string& path : paths)
        out.put("<li>{}</li>\n", path);
    out.put("</ul>\n</details>\n");
}

void statement(Html& out, const RetiredSource& source, const MigrateResult& result) {
    out.put("<h2>{}</h2>\n<p>It held {}, {}. Accounted for: {}.</p>\n", source.path,
            text::counted(source.files, "file"), text::human_bytes(source.bytes),
            text::grouped(source.accounted));
    if (source.policy_lets_go())
        out.put(
            "<p class=\"verdict\">Everything on it is accounted for, and its bags stand elsewhere "
            "as the policy wants: it may go.</p>\n");
    else if (source.may_go)
        out.put(
            "<p class=\"verdict\">Everything on it is accounted for. Keep it until its bags stand "
            "elsewhere as the policy wants.</p>\n");
    else
        out.put("<p class=\"verdict bad\">Not everything on it is accounted for: keep it.</p>\n");
    bags_of(out, source, result);
    left_on(out, source);
    named(out, "Left by operating systems, not carried", source.junk);
    named(out, "What Glassine keeps about the drive itself, not carried", source.records);
    named(out, "Rejected raws that are not in the bags; a JPEG of each is", source.rejected);
}

}  // namespace

std::string to_html(const MigrateResult& result) {
    Html out;
    statement_head(out, result);
    out.put("<main>\n");
    for (const RetiredSource& source : result.sources)
        statement(out, source, result);
    out.put("</main>\n<footer>\n<p>Glassine {}. Nothing was deleted.</p>\n</footer>\n", version());
    return page("Statement of retirement", statement_style, {out.take()});
}

}  // namespace glassine::report

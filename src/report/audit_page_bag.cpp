#include "report/audit_page_parts.h"
#include "report/next_steps.h"

#include <algorithm>

namespace glassine::report {
namespace {

/// What a page of paper can carry; the JSON has all of them.
constexpr std::size_t most_findings = 300;

std::string bytes_words(const Finding& f) {
    if (!f.offset) return "";
    if (!f.length) return fmt::format("from byte {}", text::grouped(*f.offset));
    return fmt::format("bytes {} to {}", text::grouped(*f.offset),
                       text::grouped(*f.offset + *f.length - 1));
}

void facts(Html& out, const AuditedBag& bag) {
    const bagit::BagReport& b = bag.report;
    out.put("<p class=\"facts\">{}", b.path);
    for (const bagit::Element& e : b.info)
        if (text::equal_ignoring_ascii_case(e.label, "Client-Name") ||
            text::equal_ignoring_ascii_case(e.label, "External-Description"))
            out.put(" · {}", bagit::unfolded(e.value));
    if (b.seal) out.put(" · seal {}…", b.seal->substr(0, 16));
    out.put("</p>\n");
    if (!bag.outlook.empty()) out.put("<p>{}.</p>\n", capitalised(bag.outlook));
}

void steps(Html& out, const AuditedBag& bag) {
    const std::vector<Markup> all = next_steps(bag);
    if (all.empty()) return;
    out.put("<h4>What to do</h4>\n<ol>\n");
    for (const Markup& step : all)
        out.put("<li>{}</li>\n", step);
    out.put("</ol>\n");
}

void finding_row(Html& out, const Finding& f) {
    const bool bad = f.severity == Severity::damage || f.severity == Severity::blocking;
    out.put("<tr><td><span class=\"word{}\">{}</span></td><td>{}<small>{}</small></td><td>{}",
            bad ? " bad" : "", word(f.severity), word(f.kind), info(f.kind).meaning,
            f.path.empty() ? std::string("the whole bag") : f.path);
    const std::string where = bytes_words(f);
    if (!where.empty()) out.put("<small>{}</small>", where);
    out.put("</td><td>{}</td></tr>\n", f.detail);
}

void findings_table(Html& out, const std::vector<Finding>& all, std::size_t number) {
    std::vector<const Finding*> shown;
    std::size_t left_out = 0;
    for (const Finding& f : all) {
        if (shown.size() < most_findings)
            shown.push_back(&f);
        else
            ++left_out;
    }
    if (shown.empty()) return;
    out.put(
        "<h4>What was found</h4>\n<div class=\"wide\" role=\"region\" aria-label=\"Findings of "
        "bag {}\" tabindex=\"0\">\n<table class=\"left\">\n<thead><tr><th scope=\"col\">Weight"
        "</th><th scope=\"col\">What</th><th scope=\"col\">Where</th><th scope=\"col\">In "
        "detail</th></tr></thead>\n<tbody>\n",
        number);
    for (const Finding* f : shown)
        finding_row(out, *f);
    out.put("</tbody>\n</table>\n</div>\n");
    if (left_out > 0)
        out.put("<p>… and {} more; <code>glassine audit --json</code> lists all of them.</p>\n",
                text::grouped(left_out));
}

/// Hatching over what is lost, laid over the small picture.
void loss(Html& out, const DamagedPicture::Part& part, std::size_t id) {
    out.put(
        "<svg viewBox=\"0 0 100 100\" preserveAspectRatio=\"none\" aria-hidden=\"true\">"
        "<defs><pattern id=\"lost-{0}\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\" "
        "patternTransform=\"rotate(45)\"><rect class=\"hatch-paper\" width=\"6\" height=\"6\"/>"
        "<line class=\"hatch\" x1=\"0\" y1=\"0\" x2=\"0\" y2=\"6\"/></pattern></defs>"
        "<rect class=\"loss\" vector-effect=\"non-scaling-stroke\" fill=\"url(#lost-{0})\" "
        "x=\"{1:.2f}\" y=\"{2:.2f}\" "
        "width=\"{3:.2f}\" height=\"{4:.2f}\"/></svg>",
        id, part.left * 100, part.top * 100, part.width * 100, part.height * 100);
}

void picture(Html& out, const DamagedPicture& p, std::size_t id) {
    out.put("<li><figure class=\"bad\">");
    if (p.thumbnail.empty()) {
        out.put("<div class=\"mount absent\">no small picture of it is left</div>");
    } else {
        out.put("<div class=\"mount\"><div class=\"part\"><img src=\"{}\" alt=\"{}: {}\">",
                jpeg_data(p.thumbnail), p.path, p.says);
        if (p.lost) loss(out, *p.lost, id);
        out.put("</div></div>");
    }
    out.put(
        "<figcaption><strong>{}</strong><span class=\"mark\">{}</span></figcaption>"
        "</figure></li>\n",
        p.path, p.says);
}

}  // namespace

std::string_view verdict_words(const bagit::BagReport& bag) {
    if (bag.stopped) return "not finished";
    if (bag.valid && *bag.valid) return "whole";
    if (!bag.valid && bag.complete) return "complete, not read";
    return bag.complete ? "damaged" : "not complete";
}

bool needs_attention(const bagit::BagReport& bag) {
    const bool judged = !bag.stopped;  // what was not read to its end cannot be called incomplete
    return (judged && (!bag.complete || (bag.valid && !*bag.valid))) ||
           any_at_least(bag.findings, Severity::blocking);
}

Markup bag_article(const AuditedBag& bag, const BagNotes& notes, std::size_t number) {
    Html out;
    const bool bad = needs_attention(bag.report);
    out.put(
        "<article aria-labelledby=\"bag-{0}\"{1}>\n<h3 id=\"bag-{0}\">{2}: "
        "<span class=\"word{3}\">{4}</span></h3>\n",
        number, Markup{bad ? " class=\"bad\"" : ""}, bag.report.name, bad ? " bad" : "",
        verdict_words(bag.report));
    facts(out, bag);
    steps(out, bag);
    if (!notes.pictures.empty()) {
        out.put("<h4>Damaged pictures</h4>\n<ul class=\"frames\">\n");
        for (std::size_t i = 0; i < notes.pictures.size(); ++i)
            picture(out, notes.pictures[i], number * 1000 + i);
        out.put("</ul>\n");
    }
    findings_table(out, bag.report.findings, number);
    out.put("</article>\n");
    return {out.take()};
}

}  // namespace glassine::report

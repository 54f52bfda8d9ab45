#include "glassine/report/audit_page.h"

#include "glassine/base/version.h"
#include "report/audit_page_parts.h"
#include "report/audit_page_style.h"
#include "report/next_steps.h"

#include <algorithm>
#include <set>
#include <utility>

namespace glassine::report {
namespace {

std::size_t count_attention(const AuditResult& result) {
    return static_cast<std::size_t>(std::ranges::count_if(
        result.bags, [](const AuditedBag& b) { return needs_attention(b.report); }));
}

void header(Html& out, const AuditResult& result, const AuditNotes& notes) {
    const std::string day = rfc3339(result.started).substr(0, 10);
    const bool bad = result.ending != Ending::good;
    out.put("<header>\n<h1>Audit of {}</h1>\n<p class=\"verdict{}\">{}</p>\n", day,
            bad ? " bad" : "", audit_verdict(result, notes));
    std::string by = notes.studio;
    if (!notes.person.empty()) by += (by.empty() ? "" : " · ") + ("checked by " + notes.person);
    if (!by.empty()) out.put("<p>{}</p>\n", by);
    out.put("<p>From {} to {} · Glassine {}</p>\n</header>\n", moment_words(result.started),
            moment_words(result.finished), version());
}

std::size_t count_finished(const AuditResult& result) {
    return static_cast<std::size_t>(
        std::ranges::count_if(result.bags, [](const AuditedBag& b) { return !b.report.stopped; }));
}

/// "2 bags are left for the next audit, which goes on there."
std::string left_words(const AuditResult& result) {
    if (result.left.empty()) return "";
    return fmt::format("{} {} left for the next audit, which goes on there.",
                       text::counted(result.left.size(), "bag"),
                       result.left.size() == 1 ? "is" : "are");
}

/// The first thing to do for each bag that needs it; the rest stands with the bag.
void what_next(Html& out, const AuditResult& result) {
    out.put("<section aria-labelledby=\"next\">\n<h2 id=\"next\">What to do next</h2>\n");
    const bool all_good = count_attention(result) == 0 && result.ending == Ending::good;
    if (all_good && !result.left.empty()) {
        out.put("<p>Audit again when there is time: {}</p>\n</section>\n", left_words(result));
        return;
    }
    if (all_good) {
        out.put("<p>{}</p>\n</section>\n",
                result.quick
                    ? Markup{"Audit without <code>--quick</code> when there is time: names and "
                             "sizes prove nothing."}
                    : Markup{"Nothing. Put the drives back, and audit them again in a year."});
        return;
    }
    out.put("<ul>\n");
    for (std::size_t i = 0; i < result.bags.size(); ++i) {
        const auto steps = next_steps(result.bags[i]);
        if (!needs_attention(result.bags[i].report) || steps.empty()) continue;
        out.put("<li><a href=\"#bag-{}\">{}</a>: {}</li>\n", i + 1, result.bags[i].report.name,
                steps.front());
    }
    out.put(
        "</ul>\n<p>Do not write to a drive with damage before its bags are safe elsewhere, and "
        "check the other copies of these jobs now.</p>\n</section>\n");
}

void bag_row(Html& out, const AuditedBag& bag, std::size_t number, bool has_article) {
    const bagit::BagReport& b = bag.report;
    const bool bad = needs_attention(b);
    out.put("<tr><th scope=\"row\">");
    if (has_article)
        out.put("<a href=\"#bag-{}\">{}</a>", number, b.name);
    else
        out.put("{}", b.name);
    const std::string_view sign = bad ? "✕" : b.stopped ? "◐" : "✓";
    out.put("</th><td><span class=\"word{}\">{} {}</span></td><td>{}</td><td>{}</td><td>",
            bad ? " bad" : "", sign, verdict_words(b), text::grouped(b.files),
            text::human_bytes(b.bytes));
    if (b.seconds > 0 && b.bytes_read > 0)
        out.put("{}/s", text::human_bytes(static_cast<std::uint64_t>(
                            static_cast<double>(b.bytes_read) / b.seconds)));
    out.put("</td></tr>\n");
}

bool worth_an_article(const AuditedBag& bag) {
    return needs_attention(bag.report) || any_at_least(bag.report.findings, Severity::warning);
}

void left_on_drive(Html& out, const std::vector<std::string>& left) {
    if (left.empty()) return;
    out.put("<p>Left for the next audit, or read only in part:</p>\n<ul>\n");
    for (const std::string& path : left)
        out.put("<li>{}</li>\n", path);
    out.put("</ul>\n");
}

void drive(Html& out, const AuditResult& result, const AuditNotes& notes, const DriveNotes& drive,
           std::size_t number) {
    out.put(
        "<section aria-labelledby=\"drive-{0}\">\n<h2 id=\"drive-{0}\">{1} "
        "<small>{2}</small></h2>\n",
        number, drive.label.empty() ? drive.path : drive.label,
        text::counted(drive.bags.size(), "bag"));
    if (!drive.label.empty()) out.put("<p class=\"facts\">{}</p>\n", drive.path);
    if (!drive.device.empty()) out.put("<p class=\"facts\">{}</p>\n", drive.device);
    out.put(
        "<div class=\"wide\" role=\"region\" aria-label=\"Bags of drive {}\" tabindex=\"0\">\n"
        "<table class=\"bags\">\n<thead><tr><th scope=\"col\">Bag</th><th "
        "scope=\"col\">Verdict</th>"
        "<th scope=\"col\">Files</th><th scope=\"col\">Size</th>"
        "<th scope=\"col\">Read at</th></tr></thead>\n<tbody>\n",
        number);
    for (const std::size_t i : drive.bags)
        bag_row(out, result.bags[i], i + 1, worth_an_article(result.bags[i]));
    out.put("</tbody>\n</table>\n</div>\n{}", rate_plot(result, notes, drive));
    left_on_drive(out, drive.left);
    for (const std::size_t i : drive.bags)
        if (worth_an_article(result.bags[i]))
            out.put("{}", bag_article(result.bags[i], notes.bags[i], i + 1));
    out.put("</section>\n");
}

void about_paths(Html& out, const std::vector<Finding>& findings) {
    if (findings.empty()) return;
    out.put(
        "<section aria-labelledby=\"paths\">\n<h2 id=\"paths\">On the way to the "
        "bags</h2>\n<ul>\n");
    for (const Finding& f : findings)
        out.put("<li><span class=\"word\">{}</span> {} {}: {}</li>\n", word(f.severity),
                word(f.kind), f.path, f.detail);
    out.put("</ul>\n</section>\n");
}

void footer(Html& out) {
    out.put(
        "<footer>\n<p>“Whole” means: every file of the bag was read, and each is byte for byte "
        "what was sealed. Bags follow BagIt (RFC 8493): any checksum tool can check them; "
        "HOW-TO-VERIFY.txt in each bag says how.</p>\n</footer>\n");
}

/// "4 damaged or lost files; their recovery data are enough to heal them.": what the bags that need
/// attention have in common.
std::string damage_words(const AuditResult& result) {
    std::set<std::pair<std::size_t, std::string_view>> files;
    bool healable = true;
    for (std::size_t i = 0; i < result.bags.size(); ++i) {
        bool lost = false;
        for (const Finding& f : result.bags[i].report.findings) {
            using enum FindingKind;
            if (f.kind != payload_altered && f.kind != payload_missing && f.kind != unreadable)
                continue;
            files.emplace(i, f.path);
            lost = true;
        }
        if (lost && !result.bags[i].outlook.starts_with("healable")) healable = false;
    }
    if (files.empty()) return "";
    std::string out = " " + text::counted(files.size(), "file");
    out += files.size() == 1 ? " is damaged or lost" : " are damaged or lost";
    if (healable) out += "; the recovery data in the bags are enough to heal all of it";
    return out + ".";
}

}  // namespace

namespace {

/// Of the bags that were read to their end.
std::string verdict_on_finished(const AuditResult& result, const AuditNotes& notes) {
    const std::size_t all = count_finished(result);
    const std::size_t bad = count_attention(result);
    const std::string bags = text::counted(all, "bag");
    const std::string where =
        notes.drives.size() > 1 ? fmt::format(" in {} places", notes.drives.size()) : "";
    if (bad > 0)
        return fmt::format("{} of {}{} {} attention.{}", bad,
                           text::counted(result.bags.size(), "bag"), where,
                           bad == 1 ? "needs" : "need", damage_words(result));
    if (result.ending == Ending::interrupted) return "";
    if (all == 0) return "No bag was read to its end.";
    if (result.ending != Ending::good)
        return fmt::format("{}{} checked, but not everything could be looked at.", bags, where);
    if (result.quick)
        return fmt::format(
            "{}{} complete by names and sizes; nothing is proven, since nothing was read.", bags,
            where);
    if (!result.left.empty())
        return fmt::format("{}{} {} whole.", bags, where, all == 1 ? "is" : "are");
    if (all == 1) return "The bag is whole: every file is still what was sealed.";
    return fmt::format("All {}{} are whole: every file is still what was sealed.", bags, where);
}

}  // namespace

std::string audit_verdict(const AuditResult& result, const AuditNotes& notes) {
    std::string out = verdict_on_finished(result, notes);
    const auto add = [&](const std::string& sentence) {
        out += (out.empty() || sentence.empty() ? "" : " ") + sentence;
    };
    if (result.ending == Ending::interrupted)
        add(fmt::format("The audit was stopped after {}; it says nothing about the rest.",
                        text::counted(count_finished(result), "bag")));
    else if (!result.left.empty())
        add(std::string(result.byte_budget ? "What was to be read was read: "
                        : result.budget    ? "The time was up: "
                                           : "Not all was read: ") +
            left_words(result));
    return out;
}

std::string audit_page(const AuditResult& result, const AuditNotes& notes) {
    Html out;
    header(out, result, notes);
    out.put("<main>\n");
    what_next(out, result);
    about_paths(out, result.findings);
    for (std::size_t i = 0; i < notes.drives.size(); ++i)
        drive(out, result, notes, notes.drives[i], i + 1);
    out.put("{}</main>\n", years_plot(result, notes));
    footer(out);
    return page("Audit of " + rfc3339(result.started).substr(0, 10), audit_page_style,
                {out.take()});
}

}  // namespace glassine::report

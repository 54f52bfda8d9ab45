#include "glassine/report/certificate.h"

#include "glassine/base/version.h"
#include "report/findings_text.h"
#include "report/html.h"

#include <algorithm>

namespace glassine::report {
namespace {

constexpr std::string_view certificate_style = R"css(
body { max-width: 50rem; }
h2 { margin: 1.5rem 0 .4rem; }
th, td { text-align: left; vertical-align: top; overflow-wrap: anywhere; }
th[scope=row] { font-weight: 400; color: var(--faint); width: 9rem; }
td.number, th.number { text-align: right; }
table { width: 100%; margin: .5rem 0; }
.seal { font: .9em/1.5 ui-monospace, Menlo, Consolas, monospace; overflow-wrap: anywhere; }
.seal { border: 2px solid var(--rule); padding: .5rem .8rem; word-spacing: .4em; }
.sign { display: flex; flex-wrap: wrap; gap: 2rem; margin-top: 3rem; }
.sign span { flex: 1 1 12rem; border-top: 1px solid var(--ink); padding-top: .2rem; color: var(--faint); }
@media print {
  html { font-size: 9.5pt; }
  h2 { margin-top: 1rem; }
  footer { margin-top: 1.5rem; }
}
)css";

std::string joined(const std::vector<std::string>& words) {
    std::string out;
    for (const std::string& word : words)
        out += (out.empty() ? "" : ", ") + word;
    return out;
}

std::size_t verified(const CloseoutResult& r) {
    return static_cast<std::size_t>(std::ranges::count(r.copies, true, &Copy::verified));
}

void header(Html& out, const CloseoutResult& r, const CertificateHead& head) {
    out.put("<header>\n<h1>Close-out certificate</h1>\n");
    if (!head.studio.empty()) out.put("<p>{}</p>\n", head.studio);
    const std::size_t copies = verified(r);
    out.put(
        "</header>\n<main>\n<p>This job was sealed on {} as one bag: {}. {}, and compared with "
        "what had been read from the job.</p>\n",
        rfc3339(r.finished).substr(0, 10), section_words(r.sections),
        copies == 1 ? std::string("One copy was read back whole")
                    : fmt::format("{} copies were read back whole", copies));
}

void row(Html& out, std::string_view what, const std::string& value) {
    if (!value.empty()) out.put("<tr><th scope=\"row\">{}</th><td>{}</td></tr>\n", what, value);
}

void about(Html& out, const CloseoutResult& r, const CertificateHead& head) {
    out.put("<table>\n<caption>The job</caption>\n<tbody>\n");
    row(out, head.clients.size() == 1 ? "Client" : "Clients", joined(head.clients));
    row(out, "What", head.about);
    row(out, "Shot on", head.shoot_date);
    row(out, "Job number", head.job_number);
    row(out, "Promised until", head.promised_until);
    row(out, "To be kept until", head.keep_until);
    row(out, "Bag", r.bag_name);
    row(out, "Sealed", moment_words(r.finished));
    row(out, "Sealed by", head.person);
    row(out, "Sealed although", joined(r.accepted));
    out.put("</tbody>\n</table>\n");
}

void sections(Html& out, const CloseoutResult& r) {
    out.put(
        "<table>\n<caption>What it holds</caption>\n<thead><tr><th scope=\"col\">Section</th>"
        "<th scope=\"col\" class=\"number\">Pictures</th><th scope=\"col\" "
        "class=\"number\">Files</th>"
        "<th scope=\"col\" class=\"number\">Size</th></tr></thead>\n<tbody>\n");
    for (const SectionCount& s : r.sections)
        out.put(
            "<tr><td>{}</td><td class=\"number\">{}</td><td class=\"number\">{}</td>"
            "<td class=\"number\">{}</td></tr>\n",
            job::payload_folder(s.section), text::grouped(s.pictures), text::grouped(s.files),
            text::human_bytes(s.bytes));
    out.put(
        "<tr><td>all</td><td></td><td class=\"number\">{}</td><td class=\"number\">{}</td></tr>\n"
        "</tbody>\n</table>\n",
        text::grouped(r.files), text::human_bytes(r.bytes));
}

void copies(Html& out, const CloseoutResult& r, const CertificateHead& head) {
    out.put(
        "<table>\n<caption>Copies</caption>\n<thead><tr><th scope=\"col\">Where</th>"
        "<th scope=\"col\">Proof</th></tr></thead>\n<tbody>\n");
    for (std::size_t i = 0; i < r.copies.size(); ++i) {
        const Copy& c = r.copies[i];
        out.put("<tr><td>{}", c.verified ? c.path : c.destination);
        if (i < head.drives.size() && !head.drives[i].empty())
            out.put("<small>{}</small>", head.drives[i]);
        out.put("</td><td>{}</td></tr>\n", c.verified ? c.how : "no copy: " + c.failure);
    }
    out.put("</tbody>\n</table>\n");
}

/// In groups that an eye can compare.
std::string grouped_hex(std::string_view hex) {
    std::string out;
    for (std::size_t i = 0; i < hex.size(); i += 8)
        out += (out.empty() ? "" : " ") + std::string(hex.substr(i, 8));
    return out;
}

void how_to_verify(Html& out, const CloseoutResult& r) {
    out.put(
        "<h2>The seal</h2>\n<p class=\"seal\">{}</p>\n"
        "<p>It is the SHA-512 of the bag's tagmanifest-sha512.txt, and stands for every file in "
        "the bag.</p>\n<h2>To check a copy without Glassine</h2>\n"
        "<p>The bag follows BagIt (RFC 8493). In its folder, with any tool that computes SHA-512, "
        "here that of GNU:</p>\n<ol>\n"
        "<li><code>sha512sum tagmanifest-sha512.txt</code> has to print the seal.</li>\n"
        "<li><code>sha512sum --check --quiet tagmanifest-sha512.txt manifest-sha512.txt</code> "
        "has to print nothing.</li>\n</ol>\n",
        grouped_hex(r.seal));
}

void rejected(Html& out, const CloseoutResult& r) {
    if (r.rejected_raws.empty()) return;
    out.put(
        "<p>{}, whose JPEG the bag holds, may go once enough copies are proven and one of them "
        "is in another place: photo-index/rejected-raws.txt lists them.</p>\n",
        text::counted(r.rejected_raws.size(), "rejected raw"));
}

}  // namespace

std::string certificate_page(const CloseoutResult& result, const CertificateHead& head) {
    Html out;
    header(out, result, head);
    about(out, result, head);
    sections(out, result);
    copies(out, result, head);
    how_to_verify(out, result);
    rejected(out, result);
    out.put(
        "<p class=\"sign\"><span>Date</span><span>Signature</span></p>\n</main>\n"
        "<footer>\n<p>Glassine {}. Audit every copy once a year.</p>\n</footer>\n",
        version());
    return page("Close-out certificate: " + result.bag_name, certificate_style, {out.take()});
}

}  // namespace glassine::report

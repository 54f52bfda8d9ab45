#include "report/label.h"

#include "report/html.h"

#include <algorithm>
#include <memory>

#include <qrencode.h>

namespace glassine::report {
namespace {

// All in tenths of a millimetre.
constexpr int label_wide = 1000;
constexpr int label_high = 700;
constexpr int label_margin = 40;
constexpr int code_size = 260;
constexpr int beside_code = label_wide - 2 * label_margin - code_size;
constexpr int fold = 330;  ///< the line between the volume and its jobs
constexpr std::size_t most_jobs = 9;

/// The labels are paper that lies in a drive's case: always ink on white.
constexpr std::string_view sheet_style = R"css(
:root { color-scheme: light; --paper: #fff; --ink: #000; --faint: #444; --rule: #777; }
body { max-width: none; padding: 5mm; }
.labels { display: grid; grid-template-columns: repeat(auto-fill, 100mm); list-style: none; margin: 1rem 0 0; padding: 0; }
.labels svg { display: block; width: 100mm; height: 70mm; }
.labels > li { margin: 0; break-inside: avoid; outline: 1px dashed #777; outline-offset: -1px; }
@media (max-width: 110mm) {
  .labels { display: block; }
  .labels > li > svg { width: 100%; height: auto; }
}
@page { size: A4; margin: 5mm; }
@media print { header { display: none; } body { padding: 0; } .labels { margin: 0; } }
)css";

struct FreeCode {
    void operator()(QRcode* code) const { QRcode_free(code); }
};

/// The code as one path of unit squares (ISO/IEC 18004, by libqrencode), with the quiet zone of
/// four that it asks for.
void square_code(Html& out, const std::string& words, int x, int y, int size) {
    const std::unique_ptr<QRcode, FreeCode> code(
        QRcode_encodeString8bit(words.c_str(), 0, QR_ECLEVEL_M));
    if (!code) return;  // only for a text of more than 2,331 bytes: no id of ours
    constexpr int quiet = 4;
    std::string path;
    for (int row = 0; row < code->width; ++row)
        for (int column = 0; column < code->width; ++column)
            if ((code->data[row * code->width + column] & 1) != 0)
                path += fmt::format("M{} {}h1v1h-1z", column + quiet, row + quiet);
    out.put(
        "<svg x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" viewBox=\"0 0 {} {}\" role=\"img\" "
        "aria-label=\"Square code of the volume's id\"><path d=\"{}\" "
        "shape-rendering=\"crispEdges\"/></svg>\n",
        x, y, size, size, code->width + 2 * quiet, code->width + 2 * quiet, path);
}

/// One line of text that ends where its room ends, whatever it holds: an inner drawing is cut off
/// at its border.
void label_line(Html& out, int y, int size, int room, std::string_view weight,
                const std::string& words) {
    out.put(
        "<svg x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"><text y=\"{}\" font-size=\"{}\" "
        "font-weight=\"{}\">{}</text></svg>\n",
        label_margin, y - size, room, size + size / 2, size, size, weight, words);
}

void right_line(Html& out, int y, int size, const std::string& words) {
    out.put(
        "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"end\" "
        "font-family=\"monospace\">{}</text>\n",
        label_wide - label_margin, y, size, words);
}

/// As large as it fits.
void name_line(Html& out, const std::string& name) {
    constexpr double wide = 0.74;  // of a letter's size: capitals in bold
    const std::string words = fitting(name, 24);
    const auto letters = std::ranges::count_if(
        words, [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; });
    const double fits = beside_code / (wide * static_cast<double>(letters));
    label_line(out, 110, static_cast<int>(std::min(76.0, fits)), beside_code, "bold", words);
}

std::string device_words(const shelf::VolumeIdentity& volume) {
    return volume.model + (volume.model.empty() || volume.serial.empty() ? "" : ", ") +
           volume.serial;
}

void label_facts(Html& out, const VolumeLabel& label, Date today) {
    const shelf::VolumeIdentity& volume = label.volume;
    int y = 175;
    const auto fact = [&](const std::string& words) {
        label_line(out, y, 30, beside_code, "normal", fitting(words, 38));
        y += 41;
    };
    if (!volume.place.empty()) fact("Place: " + volume.place);
    if (const std::string device = device_words(volume); !device.empty()) fact("Drive: " + device);
    if (volume.in_service) fact("In service since " + iso_date(*volume.in_service));
    if (const std::string audit = audit_words(label, today); !audit.empty())
        fact(capitalised(audit));
}

bool is_bad(const VolumeLabel::Job& job) {
    return job.state == shelf::CopyState::damaged || job.state == shelf::CopyState::replaced;
}

void label_jobs(Html& out, const VolumeLabel& label) {
    constexpr int small = 22;  // 67 letters of a typewriter's width, seal and all, fill a line
    int y = fold + 42;
    for (std::size_t i = 0; i < label.jobs.size() && i < most_jobs; ++i, y += 32) {
        const VolumeLabel::Job& job = label.jobs[i];
        const std::string name =
            is_bad(job) ? fmt::format("{}: {}", shelf::word(job.state), job.bag) : job.bag;
        out.put("<text x=\"{}\" y=\"{}\" font-size=\"{}\" font-family=\"monospace\">{}</text>\n",
                label_margin, y, small, fitting(name, 54));
        right_line(out, y, small, job.seal.substr(0, short_seal));
    }
    if (label.jobs.size() > most_jobs)
        label_line(out, y, small, label_wide - 2 * label_margin, "normal",
                   fmt::format("and {} more", text::grouped(label.jobs.size() - most_jobs)));
    if (label.jobs.empty())
        label_line(out, y, small, label_wide - 2 * label_margin, "normal", "no job stands on it");
}

/// `names`: the name space that a drawing in a file of its own has to name.
Markup drawn(const VolumeLabel& label, Date today, std::string_view names = "") {
    Html out;
    out.put(
        "<svg{} width=\"100mm\" height=\"70mm\" viewBox=\"0 0 {} {}\" "
        "font-family=\"Helvetica, Arial, sans-serif\" fill=\"#000\">\n"
        "<title>Label of {}</title>\n<rect width=\"{}\" height=\"{}\" fill=\"#fff\"/>\n",
        Markup{std::string(names)}, label_wide, label_high, label.name(), label_wide, label_high);
    name_line(out, label.name());
    label_facts(out, label, today);
    square_code(out, label.volume.id, label_wide - label_margin - code_size, 20, code_size);
    right_line(out, fold - 22, 20, fitting(label.volume.id, 44));
    out.put("<path d=\"M{} {}H{}\" stroke=\"#000\" stroke-width=\"3\"/>\n", label_margin, fold,
            label_wide - label_margin);
    label_jobs(out, label);
    right_line(
        out, label_high - 16, 18,
        fmt::format("{} · as of {}", text::counted(label.jobs.size(), "job"), iso_date(today)));
    out.put("</svg>\n");
    return {out.take()};
}

}  // namespace

std::string audit_words(const VolumeLabel& label, Date today) {
    if (label.retired) return "out of service since " + iso_date(*label.retired);
    if (!label.next_audit) return "";
    const std::string day = iso_date(*label.next_audit);
    return (*label.next_audit > today ? "next audit " : "audit due since ") + day;
}

std::string label_svg(const VolumeLabel& label, Date today) {
    return "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n" +
           drawn(label, today, " xmlns=\"http://www.w3.org/2000/svg\"").html;
}

std::string label_sheet(const std::vector<VolumeLabel>& labels, Date today) {
    Html out;
    out.put(
        "<header><h1>Labels for drive cases</h1>\n<p>Print this page at its true size (100 %), "
        "and cut along the dashed lines.</p></header>\n<main>\n<ul class=\"labels\">\n");
    for (const VolumeLabel& label : labels)
        out.put("<li>{}</li>\n", drawn(label, today));
    out.put("</ul>\n</main>\n");
    return page("Labels for drive cases", sheet_style, {out.take()});
}

}  // namespace glassine::report

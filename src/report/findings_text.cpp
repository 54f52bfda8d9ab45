#include "report/findings_text.h"

#include "glassine/base/text.h"
#include "report/paint.h"

#include <array>
#include <map>

#include <fmt/format.h>

namespace glassine::report {
namespace {

using text::for_terminal;

/// The severity as a person reads it in a list.
std::string_view label(Severity severity) {
    switch (severity) {
        case Severity::damage:
            return "damage";
        case Severity::blocking:
            return "blocks";
        case Severity::warning:
            return "warning";
        case Severity::note:
            return "note";
    }
    return "";
}

std::string range_text(const Finding& f) {
    if (!f.offset) return "";
    if (!f.length) return fmt::format(" (from byte {})", text::grouped(*f.offset));
    return fmt::format(" (bytes {} to {})", text::grouped(*f.offset),
                       text::grouped(*f.offset + *f.length - 1));
}

std::string one_finding(const Finding& f, const Paint& paint) {
    std::string line = fmt::format(
        "  {}  {}", paint.by(f.severity, fmt::format("{:<7}", label(f.severity))), word(f.kind));
    if (!f.path.empty()) line += "  " + paint.strong(for_terminal(f.path));
    line += range_text(f);
    if (!f.detail.empty()) line += "\n           " + for_terminal(f.detail);
    return line + "\n";
}

}  // namespace

std::string findings_text(const std::vector<Finding>& findings, const TerminalStyle& style) {
    constexpr std::size_t few = 5;
    const Paint paint(style.color);
    std::map<FindingKind, std::size_t> notes;
    for (const Finding& f : findings)
        if (f.severity == Severity::note) ++notes[f.kind];
    std::string out;
    std::size_t shown = 0;
    std::size_t left_out = 0;
    for (const Finding& f : findings) {
        if (f.severity == Severity::note && notes[f.kind] > few) continue;
        if (shown++ < style.most_findings)
            out += one_finding(f, paint);
        else
            ++left_out;
    }
    if (left_out > 0)
        out += fmt::format("  … and {} more; --json lists all of them\n", text::grouped(left_out));
    for (const auto& [kind, count] : notes)
        if (count > few)
            out += fmt::format("  {}  {}: {} times ({})\n", paint.by(Severity::note, "note   "),
                               word(kind), text::grouped(count), info(kind).meaning);
    return out;
}

std::string section_words(const std::vector<SectionCount>& sections) {
    constexpr std::array<std::array<std::string_view, 2>, 4> words{
        {{"original", "originals"},
         {"print", "prints"},
         {"web picture", "web pictures"},
         {"reject proxy", "reject proxies"}}};
    std::string out;
    for (const SectionCount& s : sections) {
        if (!out.empty()) out += ", ";
        const auto& [one, many] = words[job::index(s.section)];
        out += text::counted(s.pictures > 0 ? s.pictures : s.files, one, many);
    }
    return out;
}

}  // namespace glassine::report

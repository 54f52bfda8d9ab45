#include "glassine/base/text.h"
#include "glassine/report/terminal.h"
#include "report/findings_text.h"
#include "report/paint.h"

#include <algorithm>

#include <fmt/format.h>

namespace glassine::report {
namespace {

/// With a question mark where some numbers follow no counting.
std::string missing_numbers(const job::BodySummary& body) {
    return text::grouped(body.missing).append(body.counted ? "" : "?");
}

std::string row(const job::BodySummary& body, std::size_t width) {
    return fmt::format("  {:<{}}  {:>7}  {:>7}  {:>8}  {:>7}  {:>6}\n",
                       text::for_terminal(body.label), width, text::grouped(body.shot),
                       text::grouped(body.kept), text::grouped(body.rejected),
                       missing_numbers(body), text::grouped(body.broken));
}

/// What a photographer reads in ten seconds.
std::string table(const job::Summary& summary, const Paint& paint) {
    std::size_t width = 6;
    for (const job::BodySummary& body : summary.bodies)
        width = std::max(width, text::for_terminal(body.label).size());
    std::string out =
        paint.strong(fmt::format("  {:<{}}  {:>7}  {:>7}  {:>8}  {:>7}  {:>6}\n", "camera", width,
                                 "shot", "kept", "rejected", "missing", "broken"));
    for (const job::BodySummary& body : summary.bodies)
        out += row(body, width);
    if (summary.bodies.size() != 1) out += row(summary.total, width);
    return out;
}

std::string closing(const PreflightResult& r, const Paint& paint) {
    if (r.ending == Ending::interrupted)
        return paint.careful("interrupted") + ": not everything was looked at\n";
    std::string out = r.sections.empty() ? "nothing to keep"
                                         : fmt::format("{}, {}", section_words(r.sections),
                                                       text::human_bytes(r.bytes));
    if (r.ending == Ending::good) return out + " · " + paint.good("ready to be closed out") + "\n";
    const auto blocking = std::ranges::count_if(r.findings, [](const Finding& f) {
        return f.severity == Severity::blocking || f.severity == Severity::damage;
    });
    return out + fmt::format(" · {}: {} in the way\n", paint.bad("not ready"),
                             text::counted(static_cast<std::uint64_t>(blocking), "thing"));
}

}  // namespace

std::string to_text(const PreflightResult& result, const TerminalStyle& style) {
    const Paint paint(style.color);
    std::string out = paint.strong(text::for_terminal(result.job)) + "\n";
    out += table(result.summary, paint);
    out += findings_text(result.findings, style);
    return out + closing(result, paint);
}

}  // namespace glassine::report

#include "glassine/report/clear_result.h"

#include "glassine/base/text.h"
#include "glassine/report/terminal.h"
#include "report/findings_text.h"
#include "report/json_parts.h"
#include "report/keeping_words.h"
#include "report/paint.h"

#include <algorithm>

#include <fmt/format.h>

namespace glassine::report {
namespace {

std::string closing(const ClearResult& r, const Paint& paint) {
    if (r.ending == Ending::interrupted)
        return paint.careful("interrupted") + ": nothing is cleared\n";
    const std::string counts =
        fmt::format("{}, {} · {} held in at least {}", text::counted(r.files, "file"),
                    text::human_bytes(r.bytes), text::grouped(r.held),
                    text::counted(r.copies, "copy", "copies"));
    if (!r.clear) return fmt::format("{} · {}: do not wipe it\n", counts, paint.bad("NOT CLEAR"));
    std::string out = fmt::format("{} · {}\n", counts, paint.good("clear"));
    out += r.signed_by.empty()
               ? "Nobody has signed: the studio file does not name you as one who clears media.\n"
               : fmt::format("Signed by {}, list sha512 {}…\n", text::for_terminal(r.signed_by),
                             r.list_sha512.substr(0, 16));
    return out + "Glassine deletes nothing: wiping is yours to do.\n";
}

/// An old drive may hold hundreds.
constexpr std::size_t most_jobs_told = 20;

std::string jobs_text(const ClearResult& r) {
    std::string out;
    for (std::size_t i = 0; i < std::min(r.jobs.size(), most_jobs_told); ++i) {
        const ClearResult::Job& job = r.jobs[i];
        const std::string dates = keeping_words(job.promised_until, job.keep_until);
        out += fmt::format("  {} in {}{}\n", text::counted(job.files, "file"),
                           text::for_terminal(job.bag), dates.empty() ? "" : ", " + dates);
    }
    if (r.jobs.size() > most_jobs_told)
        out += fmt::format("  and {}: --json lists them\n",
                           text::counted(r.jobs.size() - most_jobs_told, "more job", "more jobs"));
    return out;
}

}  // namespace

std::string to_json(const ClearResult& result) {
    Json out = common(result);
    out["path"] = text::to_utf8(result.path);
    out["clear"] = result.clear;
    out["files"] = result.files;
    out["bytes"] = result.bytes;
    out["held"] = result.held;
    out["copies"] = result.copies;
    out["list_sha512"] = result.list_sha512;
    out["weaknesses"] = Json::array();
    for (const std::string& weakness : result.weaknesses)
        out["weaknesses"].push_back(text::to_utf8(weakness));
    out["jobs"] = Json::array();
    for (const ClearResult::Job& job : result.jobs)
        out["jobs"].push_back({{"bag", text::to_utf8(job.bag)},
                               {"files", job.files},
                               {"promised_until", day(job.promised_until)},
                               {"keep_until", day(job.keep_until)}});
    out["signed_by"] = result.signed_by.empty() ? Json() : Json(text::to_utf8(result.signed_by));
    out["findings"] = findings(result.findings);
    return printed(out);
}

std::string to_text(const ClearResult& result, const TerminalStyle& style) {
    const Paint paint(style.color);
    std::string out = paint.strong(text::for_terminal(result.path)) + "\n";
    out += findings_text(result.findings, style);
    out += jobs_text(result);
    for (const std::string& weakness : result.weaknesses)
        out += "  " + paint.careful(text::for_terminal(weakness)) + "\n";
    return out + closing(result, paint);
}

}  // namespace glassine::report

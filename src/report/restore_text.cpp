#include "glassine/base/text.h"
#include "glassine/report/restore_result.h"
#include "report/findings_text.h"
#include "report/paint.h"

#include <algorithm>

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace glassine::report {
namespace {

using text::for_terminal;

std::string what_was_handed_out(const RestoreResult& r) {
    std::string what = section_words(r.sections);
    std::uint64_t others = r.files + r.there_already;
    for (const SectionCount& s : r.sections)
        others -= s.files;
    if (what.empty())
        what = text::counted(others, "file");
    else if (others > 0)
        what += ", " + text::counted(others, "other file");
    what += ", " + text::human_bytes(r.bytes);
    if (r.there_already > 0)
        what += fmt::format(" · {} there already and the same",
                            text::counted(r.there_already, "file was", "files were"));
    if (r.gallery) what += " · gallery: index.html";
    return what;
}

std::string closing(const RestoreResult& r, const Paint& paint) {
    if (r.ending == Ending::interrupted)
        return paint.careful("interrupted") + ": nothing was handed out\n";
    if (r.files + r.there_already == 0) return paint.bad("nothing was handed out") + "\n";
    std::string out = what_was_handed_out(r) + " · ";
    if (r.ending == Ending::good)
        out += paint.good("all verified");
    else
        out += paint.bad("not all that was asked for") + "; what was handed out is verified";
    out += "\n";
    if (!r.healed.empty())
        out += "This copy is damaged: mend it, and look at the drive that it stands on.\n";
    return out;
}

/// "SHELF-07 (cupboard B)".
std::string drive_of(const FoundCopy& copy) {
    return for_terminal(copy.place.empty() ? copy.label
                                           : fmt::format("{} ({})", copy.label, copy.place));
}

std::string copy_text(const FoundCopy& copy, const Paint& paint) {
    std::string out =
        fmt::format("  on {}: {}", paint.strong(drive_of(copy)), shelf::word(copy.state));
    if (copy.proven) out += ", last proven " + iso_date(utc_date(*copy.proven));
    return out + (copy.path.empty() ? ", not connected" : "\n      at " + for_terminal(copy.path)) +
           "\n";
}

std::string job_text(const FoundJob& job, const Paint& paint) {
    std::string out = paint.strong(for_terminal(job.bag));
    if (!job.clients.empty())
        out += " · " + for_terminal(fmt::format("{}", fmt::join(job.clients, ", ")));
    out +=
        fmt::format(" · {}, {}\n", text::counted(job.files, "file"), text::human_bytes(job.bytes));
    for (const FoundCopy& copy : job.copies)
        out += copy_text(copy, paint);
    if (job.copies.empty()) out += "  no copy of it is left on the shelf\n";
    if (!job.frames.empty())
        out += "  frames " + for_terminal(fmt::format("{}", fmt::join(job.frames, ", "))) + "\n";
    return out;
}

/// Nothing was handed out: one of several jobs is to be chosen, or a drive to be fetched.
std::string answers(const RestoreResult& r, const TerminalStyle& style) {
    const Paint paint(style.color);
    std::string out;
    for (const FoundJob& job : r.jobs)
        out += job_text(job, paint);
    out += findings_text(r.findings, style);
    if (r.jobs.size() > 1)
        return out + fmt::format(
                         "{} to \"{}\", and nothing was handed out. Type the whole name of the "
                         "one that is meant:\n  glassine restore {} --to {}\n",
                         text::counted(r.jobs.size(), "job answers", "jobs answer"),
                         for_terminal(r.words), text::for_shell(r.jobs.front().bag),
                         text::for_shell(r.target));
    if (r.jobs.front().copies.empty()) return out;
    return out + "No copy is connected: fetch " +
           paint.strong(drive_of(r.jobs.front().copies.front())) +
           ", connect it, and run the command again.\n";
}

}  // namespace

std::string to_text(const RestoreResult& result, const TerminalStyle& style) {
    const Paint paint(style.color);
    if (!result.jobs.empty() && result.from.empty()) return answers(result, style);
    std::string out = paint.strong(for_terminal(result.bag_name)) + "\n";
    out += findings_text(result.findings, style);
    if (!result.jobs.empty()) {
        out += copy_text(result.jobs.front().copies.front(), paint);
        if (!result.jobs.front().frames.empty() && !result.by_frames)
            out += fmt::format(
                "  the words name frames too ({}): --frames hands out only these\n",
                for_terminal(fmt::format("{}", fmt::join(result.jobs.front().frames, ", "))));
    }
    for (const std::string& path : result.written)
        out += fmt::format("  {}  {}\n", paint.good("to     "), paint.strong(for_terminal(path)));
    return out + closing(result, paint);
}

}  // namespace glassine::report

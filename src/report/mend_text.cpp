#include "glassine/base/text.h"
#include "glassine/report/terminal.h"
#include "report/findings_text.h"
#include "report/paint.h"

#include <algorithm>
#include <array>
#include <iterator>

#include <fmt/format.h>

namespace glassine::report {
namespace {

constexpr std::size_t most_changes = 8;

std::string healed_text(const HealedFile& file, bool dry_run, const Paint& paint) {
    std::string out = fmt::format(
        "  {}  {}\n           {} {}\n", paint.good(dry_run ? "can heal" : "healed  "),
        paint.strong(text::for_terminal(file.path)), "from", text::for_terminal(file.from));
    for (std::size_t i = 0; i < file.changes.size() && i < most_changes; ++i)
        out += "           " + text::for_terminal(file.changes[i]) + "\n";
    if (file.changes.size() > most_changes)
        out += fmt::format("           … and {} more\n",
                           text::counted(file.changes.size() - most_changes, "place"));
    return out;
}

std::string closing(const MendResult& r, const Paint& paint) {
    if (r.ending == Ending::interrupted)
        return paint.careful("interrupted") +
               ": what was healed so far is in its place; run the command again to go on\n";
    if (r.healed.empty() && r.beyond_repair.empty())
        return r.ending == Ending::good ? paint.good("whole") + ": there was nothing to heal\n"
                                        : paint.bad("nothing could be healed") +
                                              "; `glassine audit` shows what is wrong\n";
    std::string out = r.healed.empty() ? "nothing" : text::counted(r.healed.size(), "file");
    out += r.dry_run ? " can be healed" : " healed";
    if (!r.beyond_repair.empty())
        out += fmt::format(" · {} beyond repair: bring another copy with --from",
                           paint.bad(std::to_string(r.beyond_repair.size())));
    else if (!r.dry_run && r.ending == Ending::good)
        out += " · " + paint.good("the bag is whole");
    else if (!r.dry_run)
        out += "; something else is still wrong: see `glassine audit`";
    return out + "\n";
}

}  // namespace

std::string to_text(const MendResult& result, const TerminalStyle& style) {
    const Paint paint(style.color);
    std::string out = paint.strong(text::for_terminal(result.bag)) + "\n";
    for (const HealedFile& file : result.healed)
        out += healed_text(file, result.dry_run, paint);
    for (const std::string& path : result.beyond_repair)
        out += fmt::format("  {}  {}\n", paint.bad("lost    "),
                           paint.strong(text::for_terminal(path)));
    if (!result.quarantine.empty())
        out += fmt::format("  The damaged files, and a log, are kept in {}\n",
                           text::for_terminal(result.quarantine));
    // What was wrong before is told by what was healed; the rest is about the shelf.
    std::vector<Finding> further;
    std::ranges::copy_if(result.findings, std::back_inserter(further), [](const Finding& f) {
        using enum FindingKind;
        constexpr std::array kinds{beyond_repair, not_recorded, register_new, volume_unknown,
                                   volume_cloned};
        return std::ranges::find(kinds, f.kind) != kinds.end();
    });
    return out + findings_text(further, style) + closing(result, paint);
}

}  // namespace glassine::report

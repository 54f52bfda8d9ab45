#include "glassine/base/text.h"
#include "glassine/report/migrate_result.h"
#include "report/findings_text.h"
#include "report/paint.h"

#include <array>
#include <set>

#include <fmt/format.h>

namespace glassine::report {
namespace {

using text::for_terminal;

struct FateWords {
    Fate fate;
    std::string_view word;
    std::string_view label;  ///< of a line on the terminal
};
constexpr std::array fates{FateWords{Fate::carried, "carried", "carried"},
                           FateWords{Fate::upgraded, "upgraded", "upgraded"},
                           FateWords{Fate::adopted, "adopted", "adopted"},
                           FateWords{Fate::already, "already", "there"},
                           FateWords{Fate::damaged, "damaged", "DAMAGED"},
                           FateWords{Fate::failed, "failed", "FAILED"}};

const FateWords& words_of(Fate fate) {
    return fates[static_cast<std::size_t>(fate)];
}

std::string bag_text(const MigratedBag& b, const Paint& paint, const TerminalStyle& style) {
    const std::string label = fmt::format("{:<8}", words_of(b.fate).label);
    std::string out =
        fmt::format("{}  {} · {}, {}\n", arrived(b.fate) ? paint.good(label) : paint.bad(label),
                    paint.strong(for_terminal(b.source)), text::counted(b.files, "file"),
                    text::human_bytes(b.bytes));
    if (!b.path.empty())
        out += fmt::format("          to {}{}\n", for_terminal(b.path),
                           b.how.empty() ? "" : fmt::format(" ({})", for_terminal(b.how)));
    if (!b.failure.empty()) out += fmt::format("          {}\n", for_terminal(b.failure));
    if (b.fate == Fate::damaged)
        out += "          carried as it is: it is damaged, and nothing at hand heals it\n";
    return out + findings_text(b.findings, style);
}

/// What its bags lack once it is gone, each lack once: "1 of 3 copies; 0 of 1 copies off site".
std::string lacking(const RetiredSource& s, const std::vector<MigratedBag>& bags) {
    std::string words;
    std::set<std::string> told;
    for (const MigratedBag& b : bags)
        if (b.drive == s.path)
            for (const std::string& lack : b.lacks)
                if (told.insert(lack).second) words += (words.empty() ? "" : "; ") + lack;
    return words;
}

std::string policy_text(const RetiredSource& s, const MigrateResult& r, const Paint& paint) {
    if (s.policy_lets_go())
        return "  " + paint.good("its bags stand elsewhere as the policy wants: it may go") + "\n";
    return fmt::format("  without it {} what the policy wants ({}): keep it until then\n",
                       text::counted(s.too_few, "bag lacks", "bags lack"), lacking(s, r.bags));
}

std::string statement(const RetiredSource& s, const MigrateResult& r, const Paint& paint,
                      const TerminalStyle& style) {
    std::string out = fmt::format("\nStatement for {}\n", paint.strong(for_terminal(s.path)));
    out += fmt::format("  it held {}, {}\n", text::counted(s.files, "file"),
                       text::human_bytes(s.bytes));
    out += fmt::format("  accounted for: {}", text::grouped(s.accounted));
    std::string aside;
    if (!s.junk.empty())
        aside = fmt::format("{} left by operating systems", text::grouped(s.junk.size()));
    if (!s.records.empty())
        aside += fmt::format("{}{} about the drive itself", aside.empty() ? "" : ", ",
                             text::grouped(s.records.size()));
    if (!aside.empty()) out += fmt::format(" ({}, not carried)", aside);
    out += "\n" + findings_text(s.left, style);
    if (!s.rejected.empty())
        out += fmt::format("  {} on it are in no bag; a JPEG of each is\n",
                           text::counted(s.rejected.size(), "rejected raw"));
    if (s.may_go)
        return out + "  " + paint.good("everything on it is accounted for") + "\n" +
               policy_text(s, r, paint);
    return out + "  " + paint.bad("not everything on it is accounted for: keep it") + "\n";
}

}  // namespace

std::string_view word(Fate fate) {
    return words_of(fate).word;
}

bool arrived(Fate fate) {
    return fate != Fate::damaged && fate != Fate::failed;
}

std::string to_text(const MigrateResult& result, const TerminalStyle& style) {
    const Paint paint(style.color);
    std::string out;
    for (const MigratedBag& b : result.bags)
        out += bag_text(b, paint, style);
    for (const RetiredSource& s : result.sources)
        out += statement(s, result, paint, style);
    out += findings_text(result.findings, style);
    if (!result.left.empty() && result.ending != Ending::interrupted)
        out += paint.careful("the time is up") +
               fmt::format(": {} left; run the command again to go on\n",
                           text::counted(result.left.size(), "bag is", "bags are"));
    if (result.ending == Ending::interrupted)
        out += paint.careful("interrupted") +
               ": what is carried so far is proven; run the command again to go on\n";
    if (result.ending == Ending::good) out += "Glassine has deleted nothing.\n";
    return out;
}

}  // namespace glassine::report

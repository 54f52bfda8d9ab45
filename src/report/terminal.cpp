#include "glassine/report/terminal.h"

#include "glassine/base/text.h"
#include "report/findings_text.h"
#include "report/paint.h"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace glassine::report {
namespace {

using text::for_terminal;

std::string number_word(std::size_t n) {
    constexpr std::array<std::string_view, 10> words{"no",   "one", "two",   "three", "four",
                                                     "five", "six", "seven", "eight", "nine"};
    return n < words.size() ? std::string(words[n]) : std::to_string(n);
}

std::string copies_text(const CloseoutResult& r, const Paint& paint) {
    std::string out;
    for (const Copy& c : r.copies) {
        if (c.verified)
            out += fmt::format("  {}  {}\n           {}\n", paint.good("copy   "),
                               paint.strong(for_terminal(c.path)), c.how);
        else if (!c.failure.empty())
            out += fmt::format("  {}  {}\n           {}\n", paint.bad("failed "),
                               paint.strong(for_terminal(c.destination)), for_terminal(c.failure));
        else if (r.dry_run)
            out += fmt::format("  would copy to {}\n", for_terminal(c.planned));
    }
    return out;
}

std::string closing_line(const CloseoutResult& r, const Paint& paint) {
    const auto verified =
        static_cast<std::size_t>(std::ranges::count(r.copies, true, &Copy::verified));
    std::string what = fmt::format("{}, {}", section_words(r.sections), text::human_bytes(r.bytes));
    if (r.sections.empty()) what = "nothing to keep";
    if (verified > 0)
        return fmt::format(
            "{} · {} · {}\n", what, paint.good("sealed"),
            verified == 1 ? "one copy verified" : number_word(verified) + " copies verified");
    if (r.ending == Ending::interrupted)
        return fmt::format("{} · {}: nothing was sealed, the sources are as they were\n", what,
                           paint.careful("interrupted"));
    if (r.ending == Ending::attention)
        return fmt::format("{} · {}: nothing was sealed, the sources are as they were\n", what,
                           paint.bad("not ready"));
    if (r.ending == Ending::failed)
        return fmt::format("{} · {}: there is no verified copy, the sources are as they were\n",
                           what, paint.bad("not sealed"));
    return fmt::format("{} · would be sealed as {}\n", what, r.bag_name);
}

std::string closeout_advice(const CloseoutResult& r) {
    if (r.ending == Ending::attention && !r.dry_run)
        return "Mend what blocks and run the command again; what you take on yourself can be "
               "accepted by its kind "
               "(--accept KIND).\n";
    if (r.ending == Ending::good && !r.dry_run) {
        std::string out = fmt::format("Seal {}…\n", r.seal.substr(0, 16));
        if (!r.rejected_raws.empty())
            out += fmt::format(
                "{} may go once enough copies are proven: photo-index/rejected-raws.txt lists "
                "them.\n",
                text::counted(r.rejected_raws.size(), "rejected raw"));
        return out + "Keep cards and rejected raws until a copy is off site as well.\n";
    }
    return "";
}

std::string verdict(const bagit::BagReport& b, const Paint& paint) {
    if (b.stopped)
        return any_at_least(b.findings, Severity::damage)
                   ? paint.bad("DAMAGED") + ", " + paint.careful("not finished")
                   : paint.careful("not finished");
    if (std::ranges::find(b.findings, FindingKind::replaced_since_sealed, &Finding::kind) !=
        b.findings.end())
        return paint.bad("REPLACED");
    if (b.valid && *b.valid) return paint.good("whole");
    if (!b.valid && b.complete) return paint.good("complete") + " (not hashed)";
    if (!b.complete) return paint.bad("NOT COMPLETE");
    return paint.bad("DAMAGED");
}

std::string bag_line(const bagit::BagReport& b, const Paint& paint) {
    std::string line =
        fmt::format("{}: {} · {}, {}", paint.strong(for_terminal(b.path)), verdict(b, paint),
                    text::counted(b.files, "file"), text::human_bytes(b.bytes));
    if (b.seconds > 1 && b.bytes_read > 0)
        line += fmt::format(" · read at {}/s", text::human_bytes(static_cast<std::uint64_t>(
                                                   static_cast<double>(b.bytes_read) / b.seconds)));
    return line + "\n";
}

/// Not what was sealed, or not what the standard asks for; a profile is another matter. `surely`:
/// what was exchanged in a store and not read since may be as good.
bool is_damaged(const bagit::BagReport& b, bool surely = false) {
    const auto weighs = [surely](const Finding& f) {
        return f.severity >= Severity::blocking && f.kind != FindingKind::profile_mismatch &&
               !(surely && f.kind == FindingKind::object_exchanged);
    };
    return !b.complete || !b.valid.value_or(true) || std::ranges::any_of(b.findings, weighs);
}

bool sound_bag(const AuditedBag& bag) {
    return !bag.report.stopped && !is_damaged(bag.report) && bag.conforms.value_or(true);
}

/// One line about a profile, where there is one.
std::string profile_line(const AuditResult& r, const AuditedBag& bag, const Paint& paint) {
    if (!bag.conforms || bag.report.stopped) return {};
    return fmt::format("  {} {}\n",
                       *bag.conforms ? paint.good("keeps to the profile")
                                     : paint.bad("does not keep to the profile"),
                       for_terminal(r.profile));
}

/// What the store itself said, which proves nothing.
std::string store_line(const AuditedBag& bag) {
    if (!bag.store_checksums) return {};
    std::string line =
        fmt::format("  store checksums as when proven: {}", bag.store_checksums->same);
    if (bag.store_checksums->other > 0)
        line += fmt::format(", others: {}", bag.store_checksums->other);
    return line + "\n";
}

std::string audit_closing(const AuditResult& r, const Paint& paint) {
    std::size_t whole = 0;
    for (const AuditedBag& bag : r.bags)
        if (sound_bag(bag)) ++whole;
    const std::string bags = text::counted(r.bags.size(), "bag");
    const std::string_view sound =
        r.quick ? "complete (names and sizes only: nothing is proven without hashing)" : "whole";
    if (r.ending == Ending::interrupted)
        return fmt::format("{} · {} were looked at before the audit was stopped\n",
                           paint.careful("interrupted"), bags);
    // The last of them may be one that the time was too short for.
    const auto unfinished =
        static_cast<std::size_t>(std::ranges::count_if(r.bags, [](const AuditedBag& b) {
            return b.report.stopped && !any_at_least(b.report.findings, Severity::blocking);
        }));
    if (whole + unfinished == r.bags.size() && !r.left.empty())
        return fmt::format("{} · {}: {} left for the next audit, which goes on here\n",
                           text::counted(whole, "bag") + " " + paint.good(std::string(sound)),
                           paint.careful(r.ending == Ending::failed ? "not finished"
                                         : r.byte_budget            ? "the budget is used up"
                                         : r.budget                 ? "the time is up"
                                                                    : "not finished"),
                           text::counted(r.left.size(), "bag"));
    if (whole == r.bags.size())
        return fmt::format(
            "{} · {}\n", bags,
            paint.good(r.bags.size() == 1 ? std::string(sound) : "all " + std::string(sound)));
    const std::size_t others = r.bags.size() - whole - (r.left.empty() ? 0 : unfinished);
    std::string out = fmt::format("{} · {} {} attention\n", bags, paint.bad(std::to_string(others)),
                                  others == 1 ? "needs" : "need");
    if (std::ranges::none_of(r.bags,
                             [](const AuditedBag& bag) { return is_damaged(bag.report, true); }))
        return out;
    return out +
           "Do not write to a drive with damage. Check the other copies of these jobs now, and "
           "take what is lost from a "
           "copy that is whole.\n";
}

}  // namespace

std::string to_text(const CloseoutResult& result, const TerminalStyle& style) {
    const Paint paint(style.color);
    std::string out = paint.strong(result.bag_name) + "\n";
    out += findings_text(result.findings, style);
    out += copies_text(result, paint);
    out += closing_line(result, paint);
    return out + closeout_advice(result);
}

std::string to_text(const AuditResult& result, const TerminalStyle& style) {
    const Paint paint(style.color);
    std::string out = findings_text(result.findings, style);
    for (const AuditedBag& b : result.bags) {
        out += bag_line(b.report, paint) + findings_text(b.report.findings, style);
        if (!b.outlook.empty()) out += "  " + paint.strong(b.outlook) + "\n";
        out += store_line(b) + profile_line(result, b, paint);
    }
    for (const VolumeRate& rate : result.rates)
        out += fmt::format("{} was read at {}/s, in its earlier audits at {}/s\n",
                           for_terminal(rate.label),
                           text::human_bytes(static_cast<std::uint64_t>(rate.now)),
                           text::human_bytes(static_cast<std::uint64_t>(rate.usual)));
    return out + audit_closing(result, paint);
}

std::string to_text(const InspectResult& result, const TerminalStyle& style) {
    const Paint paint(style.color);
    const bagit::BagReport& b = result.bag;
    std::string out = paint.strong(for_terminal(b.name)) + "\n";
    out += fmt::format("  BagIt {}, {} · {}, {} of payload\n", for_terminal(b.bagit_version),
                       for_terminal(b.encoding), text::counted(b.files, "file"),
                       text::human_bytes(b.bytes));
    for (const SectionCount& s : result.sections)
        out += fmt::format("  {:<10} {:>9}  {}\n", job::word(s.section),
                           text::counted(s.files, "file"), text::human_bytes(s.bytes));
    for (const bagit::Element& e : b.info)
        out += fmt::format("  {}: {}\n", for_terminal(e.label),
                           for_terminal(bagit::unfolded(e.value)));
    if (b.seal) out += fmt::format("  Seal: {}…\n", b.seal->substr(0, 16));
    out += findings_text(b.findings, style);
    out += fmt::format("{} · not hashed: `glassine audit` proves that every file is whole\n",
                       verdict(b, paint));
    return out;
}

}  // namespace glassine::report

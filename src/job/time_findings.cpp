#include "bodies.h"
#include "frame_findings.h"
#include "gaps.h"
#include "glassine/base/text.h"

#include <algorithm>
#include <map>
#include <string>
#include <unordered_map>

#include <fmt/format.h>

namespace glassine::job {
namespace {

using std::chrono::floor;

/// The name that a person would call the frame by, folded.
std::string name_on_disk(Files files, const Frame& frame) {
    return text::fold_case(stem_of(file_name_of(files[first_file(frame)].shown)));
}

/// Body or moment tell two frames of one name apart, and they lie in different folders.
bool told_apart(Files files, std::span<const Body> bodies, const Frame& a, const Frame& b) {
    if (folder_of(files[first_file(a)].shown) == folder_of(files[first_file(b)].shown))
        return false;
    const bool by_body =
        a.body != b.body && !bodies[a.body].serial.empty() && !bodies[b.body].serial.empty();
    const bool by_time = a.captured && b.captured &&
                         floor<std::chrono::seconds>(a.captured->local) !=
                             floor<std::chrono::seconds>(b.captured->local);
    return by_body || by_time;
}

}  // namespace

std::vector<Finding> duplicate_names(Files files, Frames frames, std::span<const Body> bodies) {
    std::unordered_map<std::string, std::size_t> seen;
    std::vector<Finding> findings;
    for (std::size_t i = 0; i < frames.size(); ++i) {
        if (frames[i].state == FrameState::delivered_only) continue;
        const auto [at, is_new] = seen.try_emplace(name_on_disk(files, frames[i]), i);
        if (is_new) continue;
        const Frame& other = frames[at->second];
        const bool apart = told_apart(files, bodies, frames[i], other);
        findings.push_back(
            found(FindingKind::duplicate_name, apart ? Severity::warning : Severity::blocking,
                  files[first_file(frames[i])].shown,
                  "has the name of " + files[first_file(other)].shown + " but shows another frame" +
                      (apart ? "" : ", and nothing but the content tells them apart")));
    }
    return findings;
}

std::vector<Finding> gap_findings(Files files, const Accounting& accounting) {
    std::vector<Finding> findings;
    for (const Gap& gap : accounting.gaps) {
        const Frame& before = accounting.frames[gap.after];
        const Frame& behind = accounting.frames[gap.before];
        const std::string names = gap.missing == 1 ? gap.first : gap.first + " to " + gap.last;
        std::string detail = fmt::format(
            "{} missing after this frame of {}: {}",
            gap.missing == 1 ? "one number is" : fmt::format("{} numbers are", gap.missing),
            accounting.bodies[before.body].label(), names);
        Severity severity = Severity::warning;
        if (on_another_day(before, behind)) {
            severity = Severity::note;
            detail += "; the next frame was shot on another day, perhaps after another job";
        }
        findings.push_back(found(FindingKind::frame_gap, severity, files[first_file(before)].shown,
                                 std::move(detail)));
    }
    for (const Uncounted& some : accounting.uncounted) {
        const Frame& first = accounting.frames[some.first];
        findings.push_back(found(
            FindingKind::frame_gap, files[first_file(first)].shown,
            fmt::format("the numbers of {} of {}, this one the first, follow no camera's "
                        "counting (there would be {}), so nothing can be said of missing "
                        "frames: compare with the cards by hand; serial numbers in the "
                        "pictures, where the camera can write them, keep bodies apart",
                        text::counted(some.frames, "frame"), accounting.bodies[first.body].label(),
                        text::counted(some.gaps, "gap"))));
    }
    return findings;
}

std::vector<Finding> clock_findings(Files files, const Accounting& accounting,
                                    std::span<const ClockShift> shifts) {
    std::vector<Finding> findings;
    for (const ClockShift& shift : shifts) {
        const auto frames = frames_of_body(accounting.frames, shift.body);
        const bool ahead = shift.ahead.count() > 0;
        const std::string words = shift_in_words(shift.ahead);
        findings.push_back(found(
            FindingKind::clock_mismatch, files[first_file(accounting.frames[frames.front()])].shown,
            fmt::format("the clock of {} is {} {} that of {}: {} its {} would make them agree",
                        accounting.bodies[shift.body].label(), words, ahead ? "ahead of" : "behind",
                        accounting.bodies[shift.reference].label(),
                        (ahead ? "taking " : "adding ") + words + (ahead ? " off" : " to"),
                        text::counted(frames.size(), "frame"))));
    }
    return findings;
}

std::vector<Finding> date_findings(Frames frames, Date date) {
    // Until this hour a party still belongs to the day before.
    constexpr auto night_ends = std::chrono::hours(5);
    std::map<std::chrono::local_days, std::size_t> days;
    for (const Frame& frame : frames) {
        if (frame.state == FrameState::delivered_only || !frame.captured) continue;
        const auto moment = frame.captured->local;
        const auto day = floor<std::chrono::days>(moment);
        const auto evening_before = floor<std::chrono::days>(moment - night_ends);
        const std::chrono::local_days wanted(date);
        if (day == wanted || evening_before == wanted) return {};
        ++days[day];
    }
    if (days.empty()) return {};
    const auto most = std::ranges::max_element(days, {}, [](const auto& d) { return d.second; });
    std::string when = iso_date(Date(most->first));
    if (days.size() > 1) {
        when = fmt::format("between {} and {}, most on {}", iso_date(Date(days.begin()->first)),
                           iso_date(Date(days.rbegin()->first)), when);
    } else {
        when = "on " + when;
    }
    return {found(FindingKind::date_mismatch, {},
                  fmt::format("no frame was shot on {}: by the cameras' clocks they were shot {}",
                              iso_date(date), when))};
}

}  // namespace glassine::job

#include "glassine/job/accounting.h"

#include "bodies.h"
#include "clocks.h"
#include "frame_book.h"
#include "frame_findings.h"
#include "gaps.h"
#include "glassine/job/deliverables.h"

#include <algorithm>
#include <iterator>
#include <limits>
#include <numeric>
#include <tuple>
#include <utility>

#include <fmt/format.h>

namespace glassine::job {
namespace {

std::string name_of(Files files, const Frame& frame, const Evidence& face) {
    if (face.camera_name)
        return fmt::format("{}{:04}", face.camera_name->prefix, face.camera_name->number);
    return std::string(stem_of(file_name_of(files[first_file(frame)].shown)));
}

/// Frames and what is known of each, by time, then by name.
void put_in_order(std::vector<Frame>& frames, std::vector<Evidence>& faces) {
    std::vector<std::size_t> order(frames.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::ranges::sort(order, {}, [&](std::size_t i) {
        const auto time = frames[i].captured ? frames[i].captured->local.time_since_epoch().count()
                                             : std::numeric_limits<std::int64_t>::max();
        return std::tuple(time, std::string_view(frames[i].name), i);
    });
    std::vector<Frame> sorted_frames;
    std::vector<Evidence> sorted_faces;
    for (const std::size_t i : order) {
        sorted_frames.push_back(std::move(frames[i]));
        sorted_faces.push_back(std::move(faces[i]));
    }
    frames = std::move(sorted_frames);
    faces = std::move(sorted_faces);
}

void count(BodySummary& row, const Frame& frame) {
    if (frame.state == FrameState::delivered_only) return;
    ++row.shot;
    ++(frame.state == FrameState::kept ? row.kept : row.rejected);
    if (!frame.captured) return;
    if (!row.first || frame.captured->local < row.first->local) row.first = frame.captured;
    if (!row.last || frame.captured->local > row.last->local) row.last = frame.captured;
}

void count_broken(const Accounting& accounting, std::span<const Observed> observed,
                  std::vector<BodySummary>& rows) {
    for (const Frame& frame : accounting.frames) {
        for (const auto* some :
             {&frame.originals, &frame.rejected, &frame.proxies, &frame.print, &frame.web}) {
            rows[frame.body].broken +=
                static_cast<std::uint64_t>(std::ranges::count_if(*some, [&](std::size_t i) {
                    return observed[i].picture.verdict == photo::Verdict::broken;
                }));
        }
    }
}

Summary summarise(const Accounting& accounting, std::span<const Observed> observed) {
    Summary summary;
    std::vector<BodySummary> rows(accounting.bodies.size());
    for (std::size_t i = 0; i < rows.size(); ++i) {
        rows[i].body = i;
        rows[i].label = accounting.bodies[i].label();
    }
    summary.total.label = "all";
    for (const Frame& frame : accounting.frames) {
        count(rows[frame.body], frame);
        count(summary.total, frame);
        if (!frame.print.empty() || !frame.web.empty()) ++summary.delivered;
    }
    for (const Gap& gap : accounting.gaps) {
        const auto missing = static_cast<std::uint64_t>(gap.missing);
        rows[accounting.frames[gap.after].body].missing += missing;
        summary.total.missing += missing;
    }
    for (const Uncounted& some : accounting.uncounted) {
        rows[accounting.frames[some.first].body].counted = false;
        summary.total.counted = false;
    }
    count_broken(accounting, observed, rows);
    summary.total.broken =
        static_cast<std::uint64_t>(std::ranges::count_if(observed, [](const Observed& one) {
            return one.picture.verdict == photo::Verdict::broken;
        }));
    std::erase_if(rows, [](const BodySummary& row) { return row.shot == 0; });
    std::ranges::stable_sort(rows, std::ranges::greater{}, &BodySummary::shot);
    summary.bodies = std::move(rows);
    return summary;
}

}  // namespace

std::string_view word(FrameState state) {
    switch (state) {
        case FrameState::kept:
            return "kept";
        case FrameState::rejected:
            return "rejected";
        case FrameState::delivered_only:
            break;
    }
    return "delivered";
}

Accounting account(std::span<const JobFile> files, std::span<const Observed> observed,
                   const Question& question) {
    FrameBook book(files, observed);
    enter_shots(book);
    enter_deliveries(book);
    const std::vector<std::size_t> lone_sidecars = enter_sidecars(book);

    Accounting result;
    result.frames = book.take_frames();
    std::vector<Evidence> faces = book.take_faces();
    for (std::size_t i = 0; i < result.frames.size(); ++i) {
        Frame& frame = result.frames[i];
        frame.name = name_of(files, frame, faces[i]);
        if (faces[i].camera_name) frame.number = faces[i].camera_name->number;
    }
    put_in_order(result.frames, faces);
    result.bodies = assign_bodies(result.frames, faces, observed);
    Counting counting = find_gaps(result.frames, faces, result.bodies);
    result.gaps = std::move(counting.gaps);
    result.uncounted = std::move(counting.uncounted);
    const auto shifts = find_clock_shifts(result.frames, result.bodies, question.date);

    const auto take = [&](std::vector<Finding> found) {
        std::ranges::move(found, std::back_inserter(result.findings));
    };
    for (std::size_t i = 0; i < files.size(); ++i) {
        take(judge_picture(files[i], observed[i].picture));
        take(judge_delivery(files[i], observed[i].picture, question.limits));
    }
    take(deliveries_without_original(files, result.frames));
    take(originals_not_delivered(files, result.frames));
    take(rejects_without_proxy(files, result.frames, observed));
    take(duplicate_names(files, result.frames, result.bodies));
    take(duplicate_contents(files, observed));
    take(orphans(files, lone_sidecars));
    take(gap_findings(files, result));
    take(clock_findings(files, result, shifts));
    if (question.date) take(date_findings(result.frames, *question.date));
    result.made_proxies = proxies_to_make(files);
    std::erase_if(result.made_proxies,
                  [&](const ProxyToMake& proxy) { return !observed[proxy.raw].proxy_made; });
    result.summary = summarise(result, observed);
    return result;
}

}  // namespace glassine::job

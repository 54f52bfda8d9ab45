#include "frame_findings.h"
#include "glassine/job/frames_csv.h"

#include <algorithm>
#include <unordered_map>

#include <fmt/format.h>

namespace glassine::job {
namespace {

/// Where a file is to be found: in the bag, or in the job folder when it is not carried.
const std::string& known_as(const JobFile& file) {
    return file.is_payload() ? file.name : file.shown;
}

class Rows {
  public:
    Rows(std::span<const JobFile> files, std::span<const Observed> observed,
         const Accounting& accounting)
        : files_(files), observed_(observed), accounting_(accounting) {
        for (const ProxyToMake& proxy : accounting.made_proxies)
            made_.emplace(proxy.raw, proxy.name);
    }

    FrameRow row(const Frame& frame) const {
        const Body& body = accounting_.bodies[frame.body];
        FrameRow row;
        row.frame = frame.name;
        row.make = body.make;
        row.model = body.model;
        row.serial = body.serial;
        if (frame.captured) row.captured = in_words(*frame.captured);
        row.state = word(frame.state);
        add(row.originals, frame.originals, row);
        add(row.sidecars, frame.sidecars, row);
        add(row.print, frame.print, row);
        add(row.web, frame.web, row);
        add(row.proxies, frame.proxies, row);
        for (const std::size_t i : frame.rejected)
            add_rejected(i, row);
        return row;
    }

  private:
    void add(std::vector<std::string>& to, const std::vector<std::size_t>& some,
             FrameRow& row) const {
        for (const std::size_t i : some) {
            to.push_back(known_as(files_[i]));
            note_broken(i, row);
        }
    }

    /// Rejected pictures other than raws are in the bag and stand for themselves.
    void add_rejected(std::size_t i, FrameRow& row) const {
        note_broken(i, row);
        if (files_[i].is_payload()) {
            row.proxies.push_back(files_[i].name);
            return;
        }
        row.rejected_raws.push_back({files_[i].shown, observed_[i].sha512});
        const auto made = made_.find(i);
        if (made != made_.end()) row.proxies.push_back(made->second);
    }

    void note_broken(std::size_t i, FrameRow& row) const {
        if (observed_[i].picture.verdict == photo::Verdict::broken)
            row.broken.push_back(known_as(files_[i]));
    }

    std::span<const JobFile> files_;
    std::span<const Observed> observed_;
    const Accounting& accounting_;
    std::unordered_map<std::size_t, std::string> made_;
};

}  // namespace

std::vector<FrameRow> frame_rows(std::span<const JobFile> files, std::span<const Observed> observed,
                                 const Accounting& accounting) {
    const Rows rows(files, observed, accounting);
    std::vector<FrameRow> all;
    all.reserve(accounting.frames.size());
    for (const Frame& frame : accounting.frames)
        all.push_back(rows.row(frame));
    return all;
}

std::string in_words(const photo::CaptureTime& captured) {
    const auto day = std::chrono::floor<std::chrono::days>(captured.local);
    const std::chrono::hh_mm_ss time(captured.local - day);
    std::string words =
        fmt::format("{}T{:02}:{:02}:{:02}", iso_date(Date(day)), time.hours().count(),
                    time.minutes().count(), time.seconds().count());
    if (captured.has_subseconds) words += fmt::format(".{:03}", time.subseconds().count());
    if (captured.utc_offset) {
        const auto offset = captured.utc_offset->count();
        words += fmt::format("{}{:02}:{:02}", offset < 0 ? '-' : '+', std::abs(offset) / 60,
                             std::abs(offset) % 60);
    }
    return words;
}

}  // namespace glassine::job

#include "archive_pass.h"

#include <algorithm>
#include <array>
#include <cstring>
#include <utility>

namespace glassine::bagit {
namespace {

using Clock = std::chrono::steady_clock;
constexpr std::chrono::milliseconds tick{100};

double seconds_since(Clock::time_point start) {
    return std::chrono::duration<double>(Clock::now() - start).count();
}

}  // namespace

ArchivePass::ArchivePass(ArchiveReader& reader, std::span<flow::Sink* const> sinks,
                         const flow::Options& options)
    : reader_(reader),
      options_(options),
      distributor_(sinks, options.resources),
      told_(Clock::now()),
      start_(told_) {}

ArchivePass::Result ArchivePass::run(const Wishes& wishes) {
    while (!(wishes.enough && wishes.enough(result_.members)) && go_on(wishes) && reader_.next()) {
        member(wishes);
        ++result_.members;
    }
    while (!distributor_.wait_for(tick))
        tell();
    told_ = {};
    tell();
    result_.flow.cancelled = options_.stop.stop_requested();
    result_.flow.seconds = seconds_since(start_);
    result_.flow.bypass = io::Bypass::none;
    result_.flow.sink_failures = distributor_.failures();
    return std::move(result_);
}

bool ArchivePass::go_on(const Wishes& wishes) {
    tell();
    if (options_.stop.stop_requested() || distributor_.all_failed() || result_.limit) return false;
    if (wishes.limit) result_.limit = wishes.limit(unpacked_);
    return !result_.limit;
}

void ArchivePass::member(const Wishes& wishes) {
    auto item = wishes.begin(result_.members, reader_.member());
    if (!item) return;
    const auto start = Clock::now();
    flow::Outcome outcome;
    const auto file = distributor_.open(*item);
    content(wishes, *file, outcome);
    outcome.seconds = seconds_since(start);
    judge(outcome);
    distributor_.close(*file, outcome);
    result_.flow.bytes += outcome.bytes;
    ++result_.flow.files;
    if (wishes.end) wishes.end(*item, outcome);
    if (options_.on_item) options_.on_item(*item, outcome);
}

void ArchivePass::content(const Wishes& wishes, flow::Distributor::File& file,
                          flow::Outcome& outcome) {
    begin_ = 0;
    filled_ = 0;
    bool whole = true;
    while (const auto piece = reader_.piece()) {
        if (!go_on(wishes) || !pad(wishes, file, piece->offset)) {
            whole = false;
            break;
        }
        append(file, piece->bytes);
        if (wishes.piece) wishes.piece(piece->bytes);
    }
    if (whole) whole = pad(wishes, file, reader_.end_of_member());
    hand_over(file);
    outcome.bytes = begin_;
    if (whole) return;
    outcome.status = flow::Status::cancelled;
    outcome.why = "reading was stopped";
}

/// A member that ends early is only known by the fault that follows.
void ArchivePass::judge(flow::Outcome& outcome) const {
    if (outcome.status == flow::Status::cancelled) return;
    if (!reader_.member_fault() && !reader_.member().encrypted) return;
    outcome.status = flow::Status::unreadable;
    outcome.why = reader_.member().encrypted
                      ? "it is encrypted"
                      : "the archive is damaged here: " + reader_.member_fault().value();
}

void ArchivePass::append(flow::Distributor::File& file, std::span<const std::byte> bytes) {
    while (!bytes.empty()) {
        if (!has_block_) {
            block_ = distributor_.acquire();
            has_block_ = true;
            filled_ = 0;
        }
        const std::span<std::byte> room = block_.bytes().subspan(filled_);
        const std::size_t n = std::min(room.size(), bytes.size());
        std::memcpy(room.data(), bytes.data(), n);
        filled_ += n;
        unpacked_ += n;
        bytes = bytes.subspan(n);
        if (n == room.size()) hand_over(file);
    }
}

/// The holes of a sparse file are zeros.
bool ArchivePass::pad(const Wishes& wishes, flow::Distributor::File& file, std::uint64_t to) {
    static constexpr std::array<std::byte, 4096> zeros{};
    while (begin_ + filled_ < to) {
        if (!go_on(wishes)) return false;
        const std::uint64_t missing = to - begin_ - filled_;
        append(file, std::span(zeros).first(
                         static_cast<std::size_t>(std::min<std::uint64_t>(missing, zeros.size()))));
    }
    return true;
}

void ArchivePass::hand_over(flow::Distributor::File& file) {
    if (!has_block_) return;
    distributor_.push(file, std::move(block_), begin_, filled_);
    begin_ += filled_;
    filled_ = 0;
    has_block_ = false;
}

void ArchivePass::tell() {
    const auto now = Clock::now();
    if (options_.observer == nullptr || now - told_ < tick) return;
    told_ = now;
    flow::Progress progress;
    progress.bytes = reader_.bytes_read();
    progress.total_bytes = std::max(reader_.archive_size(), progress.bytes);
    progress.files = result_.flow.files;
    progress.total_files = progress.files;
    const double seconds = seconds_since(start_);
    if (seconds > 0) progress.rate = static_cast<double>(progress.bytes) / seconds;
    if (progress.rate > 0)
        progress.seconds_left =
            static_cast<double>(progress.total_bytes - progress.bytes) / progress.rate;
    options_.observer->progress(progress);
}

}  // namespace glassine::bagit

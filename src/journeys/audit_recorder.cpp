#include "journeys/audit_recorder.h"

#include "glassine/shelf/register.h"
#include "glassine/shelf/volume.h"
#include "journeys/damaged_pictures.h"
#include "journeys/drive_words.h"

#include <algorithm>
#include <cstdlib>
#include <utility>

namespace glassine::journeys {
namespace {

/// Keeps a few thousand samples of however long a reading: when there are too many, every two
/// become one, and from then on it waits twice as long.
class RateObserver : public flow::Observer {
  public:
    RateObserver(io::FileSystem& clock, flow::Observer& further,
                 std::vector<report::RateSample>& samples)
        : clock_(clock), further_(further), samples_(samples), last_(clock.now()) {}

    void progress(const flow::Progress& progress) override {
        further_.progress(progress);
        const Timestamp now = clock_.now();
        const double seconds = static_cast<double>((now.nanoseconds - last_.nanoseconds)) / 1e9;
        if (seconds < wait_ || progress.bytes <= bytes_) return;
        samples_.push_back(
            {progress.bytes, static_cast<double>(progress.bytes - bytes_) / seconds});
        bytes_ = progress.bytes;
        last_ = now;
        if (samples_.size() >= most) halve();
    }
    void read_error(const flow::ReadError& error) override { further_.read_error(error); }

  private:
    static constexpr std::size_t most = 4096;

    void halve() {
        for (std::size_t i = 0; i < samples_.size() / 2; ++i)
            samples_[i] = {samples_[2 * i + 1].bytes,
                           (samples_[2 * i].rate + samples_[2 * i + 1].rate) / 2};
        samples_.resize(samples_.size() / 2);
        wait_ *= 2;
    }

    io::FileSystem& clock_;
    flow::Observer& further_;
    std::vector<report::RateSample>& samples_;
    Timestamp last_;
    std::uint64_t bytes_ = 0;
    double wait_ = 0.2;  ///< seconds
};

bool lies_on_drive(const io::Path& bag, const io::Path& folder) {
    const io::Path relative = bag.lexically_relative(folder);
    return !relative.empty() && *relative.begin() != "..";
}

/// What the register remembers of earlier checks of a bag's copies on the volume it was read from.
std::vector<report::EarlierCheck> earlier_checks(shelf::Register& books, const std::string& bag,
                                                 const std::string& volume, Timestamp before) {
    std::vector<report::EarlierCheck> out;
    for (const shelf::Event& event : books.events_of_bag(bag)) {
        if (event.type != shelf::event_type::fixity_check || event.time >= before ||
            event.object(shelf::object_type::volume) != volume)
            continue;
        if (event.outcome != shelf::Outcome::success && event.outcome != shelf::Outcome::failure)
            continue;
        report::EarlierCheck check{event.time, event.outcome == shelf::Outcome::success, 0};
        const double bytes = std::atof(std::string(event.figure(shelf::figure::bytes)).c_str());
        const double seconds = std::atof(std::string(event.figure(shelf::figure::seconds)).c_str());
        if (seconds > 0) check.rate = bytes / seconds;
        out.push_back(check);
    }
    return out;
}

}  // namespace

std::unique_ptr<flow::Observer> AuditRecorder::watch(flow::Observer& further) {
    rates_.clear();
    if (notes_ == nullptr) return nullptr;
    return std::make_unique<RateObserver>(context_.files, further, rates_);
}

void AuditRecorder::bag(const report::AuditedBag& bag) {
    if (notes_ == nullptr) return;
    report::BagNotes notes;
    notes.rates = std::exchange(rates_, {});
    if (!bag.report.stopped)
        notes.pictures = damaged_pictures(context_.files, bag.report.path, bag.report);
    notes_->bags.push_back(std::move(notes));
}

void AuditRecorder::drives(const report::AuditResult& result, const std::vector<io::Path>& named) {
    if (notes_ == nullptr) return;
    notes_->studio = context_.studio.name;
    notes_->person = context_.person;
    std::vector<bool> told(result.bags.size(), false);
    for (const io::Path& path : named) {
        report::DriveNotes drive;
        drive.path = path.string();
        drive.device = drive_words(context_.files, path);
        for (std::size_t i = 0; i < result.bags.size(); ++i) {
            if (told[i] || !lies_on_drive(result.bags[i].report.path, path)) continue;
            drive.bags.push_back(i);
            told[i] = true;
        }
        for (const std::string& bag : result.left)
            if (lies_on_drive(bag, path)) drive.left.push_back(bag);
        if (!drive.bags.empty() || !drive.left.empty()) notes_->drives.push_back(std::move(drive));
    }
    remember(result);
}

void AuditRecorder::remember(const report::AuditResult& result) {
    if (context_.register_file.empty() ||
        shelf::Register::examine(context_.files, context_.register_file).state !=
            shelf::RegisterState::ready)
        return;
    shelf::Register books(context_.files, context_.register_file);
    for (report::DriveNotes& drive : notes_->drives) {
        const auto volume = shelf::find_volume(context_.files, drive.path);
        if (!volume) continue;
        drive.label = volume->identity.label;
        for (const std::size_t bag : drive.bags)
            notes_->bags[bag].earlier = earlier_checks(books, result.bags[bag].report.name,
                                                       volume->identity.id, result.started);
    }
}

}  // namespace glassine::journeys

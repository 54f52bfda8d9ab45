#include "journeys/carry_archive.h"

#include "glassine/bagit/archive.h"
#include "glassine/base/text.h"
#include "glassine/flow/file_destination.h"
#include "journeys/bag_reading.h"
#include "journeys/bag_record.h"
#include "journeys/carrying_sinks.h"
#include "journeys/copies.h"
#include "journeys/heal_archive.h"
#include "journeys/mend_proofs.h"
#include "journeys/places.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

using report::Fate;

class CarryingArchive {
  public:
    CarryingArchive(const Context& context, const CarryRequest& request)
        : context_(context), request_(request), name_(request.bag.filename().string()) {}

    std::optional<CarriedArchive> run() {
        bag_.source = request_.bag.string();
        try {
            if (plainly_no_bag()) return std::nullopt;
            bag_.files = 1;
            bag_.bytes = context_.files.info(request_.bag).size;
            const io::Path standing = request_.folder / name_;
            if (context_.files.find(standing))
                prove_what_stands_there(standing);
            else
                make(request_.bag);
        } catch (const Error& error) {
            if (error.cause() == Cause::interrupted) throw;
            failed(bag_, error);
        }
        if (!holds_bag_) return std::nullopt;
        sort_findings(bag_.findings);
        return CarriedArchive{std::move(bag_), std::move(met_)};
    }

  private:
    flow::Options reading(io::Cache cache = io::Cache::use) const {
        flow::Options options = reading_options(context_);
        options.cache = cache;
        return options;
    }

    void stop_when_asked(bool stopped) const {
        if (stopped || context_.stop.stop_requested())
            throw Error(Cause::interrupted, "carry the archive", bag_.source, "it was interrupted",
                        "nothing stands under its name at the destination; run the command again");
    }

    /// An archive that is not compressed tells by its headers.
    bool plainly_no_bag() {
        const auto plain = bagit::PlainArchive::open(context_.files, request_.bag, reading());
        compressed_ = !plain;
        return plain && (!plain->contents().readable || !plain->contents().has_bag);
    }

    /// Of the copy: what is met in it is kept for the register.
    bagit::BagReport check_copy(const io::Path& copy, const std::string& words, io::Cache cache) {
        const auto meet = [this](const bagit::Bag& bag, std::string_view media_type, const auto&) {
            if (compressed_) met_ = bag_record(bag, media_type);
        };
        bagit::BagReport report = check(copy, words, cache, meet);
        if (met_) met_->name = report.name.empty() ? bagit::archive_stem(name_) : report.name;
        return report;
    }

    bagit::BagReport check(const io::Path& archive, const std::string& words,
                           io::Cache cache = io::Cache::use,
                           bagit::CheckOptions::Look look = {}) const {
        const auto phase = context_.monitor.phase(words);
        bagit::CheckOptions options;
        options.flow = reading(cache);
        options.flow.observer = phase.get();
        options.look = std::move(look);
        bagit::BagReport report = bagit::check_archive(context_.files, archive, options);
        stop_when_asked(report.stopped);
        return report;
    }

    /// Reads `source` once into the copy, which is then proven in every way.
    void make(const io::Path& source) {
        Copies copies;
        auto destination = single_file_destination(context_, request_.folder, name_);
        flow::FileDestination& place = *destination;
        copies.add(std::move(destination), 0);
        const io::FileInfo info = context_.files.info(context_.files.resolve(source));
        copies.check({info.size, 1, info.size});
        copies.prepare(context_.files.now());
        if (copies[0].failure) throw Error(*copies[0].failure);
        try {
            write(source, info, copies, place);
        } catch (...) {
            copies.abandon();
            throw;
        }
        copies.abandon();
    }

    void write(const io::Path& source, const io::FileInfo& info, Copies& copies,
               flow::FileDestination& place) {
        CopySinks copy(place);
        read(source, info, copy);
        place.sync();  // a store has it only then
        const bagit::BagReport report = check_copy(
            place.staged(), fmt::format("Proving the bag in {}", text::for_terminal(name_)),
            io::Cache::use);
        holds_bag_ = report.holds_bag;
        if (!holds_bag_) return;
        std::ranges::copy(report.findings, std::back_inserter(bag_.findings));
        if (any_at_least(bag_.findings, Severity::damage) && bag_.healed.empty() &&
            made_otherwise(report.seal, copies))
            return;
        publish(copies, copy, place);
    }

    /// A whole copy in place of the damaged one.
    bool made_otherwise(const std::optional<std::string>& seal, Copies& copies) {
        const auto whole = std::ranges::find_if(request_.others, [&](const io::Path& other) {
            return other.filename() == name_ && is_archive(other) && is_whole(other);
        });
        if (whole != request_.others.end()) {
            copies.abandon();
            take_instead(*whole);
            return true;
        }
        auto healed = carry_healed(context_, request_, seal);
        if (!healed) return false;
        copies.abandon();
        bag_ = std::move(*healed);
        met_.reset();
        return true;
    }

    bool is_archive(const io::Path& copy) const {
        const auto there = context_.files.find(copy);
        return there && there->type == io::FileType::regular;
    }

    void read(const io::Path& source, const io::FileInfo& info, CopySinks& copy) {
        const auto phase =
            context_.monitor.phase(fmt::format("Carrying {}", text::for_terminal(name_)));
        const std::vector<flow::Item> items{{0, source, name_, info.size, info.modified, true}};
        flow::Options options = reading();
        options.observer = phase.get();
        options.on_item = [&](const flow::Item&, const flow::Outcome& outcome) {
            if (outcome.status != flow::Status::whole && outcome.status != flow::Status::cancelled)
                bag_.findings.push_back(found(FindingKind::unreadable, "", outcome.why));
        };
        auto sinks = copy.sinks();
        const flow::Result result =
            flow::River(context_.files).run(flow::reading_of(items), sinks, options);
        copy.rethrow(result);
        stop_when_asked(result.cancelled);
    }

    bool is_whole(const io::Path& other) const {
        const bagit::BagReport report =
            check(other, fmt::format("Checking {}", text::for_terminal(other.string())));
        return report.holds_bag && report.valid.value_or(false);
    }

    void take_instead(const io::Path& other) {
        bag_.findings = {
            found(FindingKind::healed, "",
                  fmt::format("it is damaged at the source; the copy is whole, from {}",
                              other.string()))};
        bag_.healed.push_back({name_, other.string(), {}});
        make(other);
    }

    void publish(Copies& copies, const CopySinks& copy, const flow::Destination& place) {
        std::vector<std::string> differing;
        copies.seal(context_, copy.written(), differing);
        const Copies::Made& made = copies[0];
        if (made.failure) throw Error(*made.failure);
        bag_.path = place.published_path();
        bag_.how = made.how;
        bag_.fate = any_at_least(bag_.findings, Severity::damage) ? Fate::damaged : Fate::carried;
    }

    void prove_what_stands_there(const io::Path& standing) {
        clear_leftovers_beside(context_, standing);
        const auto here = digest_of_file(context_.files, request_.bag, digest::Algorithm::sha512);
        const auto there = digest_of_file(context_.files, standing, digest::Algorithm::sha512);
        const bagit::BagReport report = check_copy(
            standing, fmt::format("Reading again {}", text::for_terminal(standing.string())),
            io::Cache::bypass);
        const bool same = here && here == there;
        holds_bag_ = report.holds_bag || !same;
        if (!holds_bag_) return;
        if (!same && !is_healed_copy(report)) {
            bag_.failure = "another file of that name stands there; nothing is ever replaced";
            return;
        }
        bag_.path = standing.string();
        if (report.valid.value_or(false)) {
            bag_.fate = Fate::already;
            bag_.how = "stood there already; read again from the medium and whole";
        } else {
            bag_.failure = "the copy that stands there already is damaged; see `glassine audit`";
        }
    }

    /// Whole, where the source is damaged, and sealed the same.
    bool is_healed_copy(const bagit::BagReport& standing) const {
        if (!standing.valid.value_or(false) || !standing.seal) return false;
        const bagit::BagReport source =
            check(request_.bag, fmt::format("Checking {}", text::for_terminal(bag_.source)));
        return !source.valid.value_or(false) && source.seal == standing.seal;
    }

    const Context& context_;
    const CarryRequest& request_;
    std::string name_;
    report::MigratedBag bag_;
    std::optional<shelf::BagRecord> met_;  ///< by the last check
    bool compressed_ = false;
    bool holds_bag_ = true;
};

}  // namespace

std::optional<CarriedArchive> carry_archive(const Context& context, const CarryRequest& request) {
    return CarryingArchive(context, request).run();
}

}  // namespace glassine::journeys

#include "glassine/journeys/audit.h"

#include "glassine/bagit/archive.h"
#include "glassine/bagit/profile.h"
#include "glassine/base/text.h"
#include "glassine/flow/destination.h"
#include "glassine/io/files.h"
#include "journeys/audit_books.h"
#include "journeys/audit_reading.h"
#include "journeys/audit_recorder.h"
#include "journeys/byte_budget.h"
#include "journeys/time_budget.h"

#include <algorithm>
#include <functional>
#include <iterator>
#include <memory>
#include <numeric>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

using report::Ending;

/// Whether a bag lies in a close-out's staging folder below the path that is looked through: half
/// made, and under no bag's name.
bool half_made(const io::Path& bag, const io::Path& below) {
    const io::Path relative = bag.lexically_relative(below);
    return std::ranges::any_of(
        relative, [](const io::Path& part) { return flow::is_staging_name(part.string()); });
}

Error no_bag(const io::Path& path) {
    return {Cause::not_found, "audit", path.string(), "there is no bag at or below it",
            "a bag is a folder that holds a bagit.txt, or an archive of such a folder; check the "
            "path and that the drive is connected"};
}

/// What is to be checked: folders, and archive files that bags may be packed in.
struct BagPlaces {
    std::vector<io::Path> folders;
    std::vector<io::Path> archives;
};

/// What a walk over a folder comes across.
BagPlaces bags_below(const Context& context, const io::Path& path, const io::Path& resolved,
                     std::vector<Finding>& findings) {
    BagPlaces places;
    // A drive may be named through a link: looked through where it stands, told as it was named.
    const auto as_named = [&](const io::Path& met) {
        return met == resolved ? path : path / met.lexically_relative(resolved);
    };
    const auto on_error = [&](const std::string& below, const Error& error) {
        findings.push_back(found(FindingKind::unreadable, (path / below).string(), error.why()));
    };
    const auto on_archive = [&](const io::Path& met) { places.archives.push_back(as_named(met)); };
    for (const io::Path& met : bagit::find_bags(context.files, resolved, on_error, on_archive))
        places.folders.push_back(as_named(met));
    return places;
}

/// The bags at or below a path, without those inside a bag.
BagPlaces bags_at(const Context& context, const io::Path& path, std::vector<Finding>& findings) {
    const io::Path resolved = context.files.resolve(path);
    const io::FileType type = context.files.info(resolved).type;
    if (type == io::FileType::regular) return {{}, {path}};
    if (type != io::FileType::directory)
        throw Error(Cause::usage, "audit", path.string(), "it is neither a folder nor a file",
                    "name a bag, an archive of a bag, or a folder or drive of bags");
    BagPlaces places = bags_below(context, path, resolved, findings);
    const auto leave_out = [&](const io::Path& bag) {
        if (!half_made(bag, path)) return false;
        findings.push_back(found(FindingKind::unfinished_file, Severity::note, bag.string(),
                                 "an interrupted close-out left it; the next run for this job "
                                 "clears it away"));
        return true;
    };
    std::erase_if(places.folders, leave_out);
    std::erase_if(places.archives, leave_out);
    if (places.folders.empty() && places.archives.empty() &&
        !any_at_least(findings, Severity::blocking))
        throw no_bag(path);
    return places;
}

/// No profile is longer.
constexpr std::uint64_t largest_profile = 4u << 20;

std::optional<bagit::Profile> read_profile(const Context& context, const io::Path& path,
                                           report::AuditResult& result) {
    if (path.empty()) return std::nullopt;
    std::vector<Finding> findings;
    auto profile = bagit::parse_profile(io::read_small_file(context.files, path, largest_profile),
                                        path.string(), findings);
    if (!profile)
        throw Error(Cause::malformed, "read the profile", path.string(), findings.front().detail,
                    "name a BagIt profile, a JSON file");
    result.profile = profile->identifier;
    result.findings = std::move(findings);
    return profile;
}

class Audit {
  public:
    Audit(const Context& context, const AuditRequest& request)
        : context_(context),
          request_(request),
          books_(context),
          recorder_(context, request.notes),
          time_(context.stop, request.budget),
          bytes_(request.quick ? std::nullopt : request.byte_budget) {}

    report::AuditResult run() {
        result_.command = "audit";
        result_.quick = request_.quick;
        if (request_.budget) result_.budget = request_.budget->count();
        result_.started = context_.files.now();
        profile_ = read_profile(context_, request_.profile, result_);
        result_.byte_budget = request_.byte_budget;
        find_bags();
        looks_.resize(bags_.size());
        if (bytes_.limits()) {
            look_at_all_first();
            put_exchanged_first();
        }
        for (std::size_t i = 0; i < bags_.size() && !context_.stop.stop_requested(); ++i) {
            // Whatever else is packed there costs nothing of the budget.
            if (looks_[i] && left_aside(bags_[i], *looks_[i])) continue;
            if (time_.is_over() || is_gone(bags_[i]) || !can_afford(bags_[i]))
                leave(i);
            else
                look_at(i);
        }
        conclude();
        return std::move(result_);
    }

  private:
    void find_bags() {
        for (const io::Path& path : request_.paths) {
            const BagPlaces places = bags_at(context_, path, result_.findings);
            add(places.folders, bags_);
            add(places.archives, bags_);
            add(places.archives, archives_);
        }
        if (any_at_least(result_.findings, Severity::blocking)) result_.ending = Ending::attention;
        books_.arrange(bags_);
    }

    /// However little may be read: what is there, and how large it is, is looked at every time.
    void look_at_all_first() {
        Amount amount;
        for (std::size_t i = 0; i < bags_.size() && !time_.is_over(); ++i)
            looks_[i] = look_first(bags_[i], amount);
        context_.monitor.phase(
            fmt::format("Reading {} of the {} in {}, what was not proven for longest first",
                        text::human_bytes(std::min(amount.unproven, *request_.byte_budget)),
                        text::human_bytes(amount.all), text::counted(bags_.size(), "bag")));
    }

    /// What was exchanged in a store has lost its proof, however new that is.
    void put_exchanged_first() {
        std::vector<std::size_t> order(bags_.size());
        std::iota(order.begin(), order.end(), std::size_t{0});
        std::stable_partition(order.begin(), order.end(), [this](std::size_t i) {
            return looks_[i] &&
                   std::ranges::find(looks_[i]->findings, FindingKind::object_exchanged,
                                     &Finding::kind) != looks_[i]->findings.end();
        });
        std::vector<io::Path> bags;
        std::vector<std::optional<bagit::BagReport>> looks;
        for (const std::size_t i : order) {
            bags.push_back(std::move(bags_[i]));
            looks.push_back(std::move(looks_[i]));
        }
        bags_ = std::move(bags);
        looks_ = std::move(looks);
    }

    /// Bytes of all bags.
    struct Amount {
        std::uint64_t all = 0;
        std::uint64_t unproven = 0;  ///< without what an audit that was stopped has proven
    };

    std::optional<bagit::BagReport> look_first(const io::Path& bag, Amount& amount) try {
        const auto phase = context_.monitor.phase(
            fmt::format("Looking at {}", text::for_terminal(bag.filename().string())));
        bagit::CheckOptions check = options(*phase);
        check.quick = true;
        if (!is_archive(bag)) {
            books_.look(bag, check);
            count_files(bag, check, amount);
            return first_look(context_, bag, false, check);
        }
        auto look = first_look(context_, bag, true, check);
        books_.look_at_archive(bag);
        if (look) std::ranges::move(books_.exchanged(), std::back_inserter(look->findings));
        if (!look || look->holds_bag) {
            const std::uint64_t size = context_.files.info(bag).size;
            amount.all += size;
            amount.unproven += size;
        }
        return look;
    } catch (const Error& error) {
        if (error.cause() == Cause::interrupted) throw;
        // Told when its turn comes, or now, where that is not today.
        return unreadable_bag(bag, error, true).report;
    }

    void count_files(const io::Path& bag, bagit::CheckOptions& check, Amount& amount) {
        bagit::CheckOptions earlier;
        books_.begin(bag, earlier);
        check.look = [further = std::move(check.look), proven = std::move(earlier.proven_before),
                      &amount](const bagit::Bag& met, std::string_view archive,
                               const auto& report) {
            if (further) further(met, archive, report);
            for (bagit::Listing::Index i = 0; i < met.listing().size(); ++i) {
                const auto entry = met.listing()[i];
                if (!met.listing().is_file(i)) continue;
                amount.all += entry.size;
                if (!proven || !proven(entry.name)) amount.unproven += entry.size;
            }
        };
    }

    /// Files of a folder are taken one by one; an archive is read as a whole or not at all.
    bool can_afford(const io::Path& bag) try {
        if (bytes_.is_spent()) return false;
        return !is_archive(bag) || bytes_.take(context_.files.info(bag).size);
    } catch (const Error&) {
        return true;  // what is wrong with it is told when it is read
    }

    /// For the next audit, but for what the first look has found.
    void leave(std::size_t i) {
        result_.left.push_back(bags_[i].string());
        if (!looks_[i] || is_gone(bags_[i]) || ending_of_bag(*looks_[i]) == Ending::good) return;
        report::AuditedBag bag;
        bag.report = std::move(*looks_[i]);
        const bool there = books_.end(bag, true);
        if (!there) gone_.push_back(bags_[i].parent_path());
        result_.ending =
            report::worse(result_.ending, there ? ending_of_bag(bag.report) : Ending::failed);
        result_.bags.push_back(std::move(bag));
        recorder_.bag(result_.bags.back());
    }

    static void add(const std::vector<io::Path>& from, std::vector<io::Path>& to) {
        for (const io::Path& path : from)
            if (std::ranges::find(to, path) == to.end()) to.push_back(path);
    }

    bool is_archive(const io::Path& path) const {
        return std::ranges::find(archives_, path) != archives_.end();
    }

    /// An archive that was come across, and that has nothing to do with bags.
    bool left_aside(const io::Path& path, const bagit::BagReport& bag) {
        if (bag.holds_bag || std::ranges::find(request_.paths, path) != request_.paths.end())
            return false;
        result_.findings.push_back(found(FindingKind::archive_malformed, Severity::note,
                                         path.string(),
                                         "there is no bag in this archive; it was not judged"));
        return true;
    }

    void look_at(std::size_t i) {
        const io::Path& path = bags_[i];
        const auto phase = context_.monitor.phase(
            fmt::format("Checking {} ({} of {})", text::for_terminal(path.filename().string()),
                        i + 1, bags_.size()));
        const auto watch = recorder_.watch(*phase);
        report::AuditedBag bag = audit_bag(path, watch ? *watch : *phase);
        if (left_aside(path, bag.report)) return;
        const bool out_of_time = bag.report.stopped && !context_.stop.stop_requested();
        if (!books_.end(bag, request_.quick)) {
            gone_.push_back(path.parent_path());
            result_.ending = report::worse(result_.ending, Ending::failed);
            result_.left.push_back(path.string());
        } else if (out_of_time) {
            // The next audit goes on here; what was found until now is told already.
            result_.left.push_back(path.string());
            if (any_at_least(bag.report.findings, Severity::blocking))
                result_.ending = report::worse(result_.ending, Ending::attention);
            if (bytes_.limits() && !books_.keeps_progress())
                result_.findings.push_back(found(
                    FindingKind::not_recorded, Severity::note, path.string(),
                    "the budget ended in this bag, and what was proven of it is not kept, since it "
                    "lies on no volume of the shelf: the next audit begins it anew"));
        } else {
            result_.ending = report::worse(result_.ending, ending_of_bag(bag.report));
        }
        result_.bags.push_back(std::move(bag));
        recorder_.bag(result_.bags.back());
    }

    /// On a drive that was pulled out all bags look damaged, and none of them is.
    bool is_gone(const io::Path& bag) const try {
        return !gone_.empty() && !context_.files.find(bag);
    } catch (const Error&) {
        return true;  // a store that does not answer
    }

    bagit::CheckOptions options(flow::Observer& observer) {
        bagit::CheckOptions options;
        options.quick = request_.quick;
        options.flow.resources = context_.resources;
        options.flow.stop = time_.token();
        options.flow.observer = &observer;
        if (profile_)
            options.look = [this](const bagit::Bag& bag, std::string_view archive,
                                  const auto& report) {
                bagit::judge_by_profile(*profile_, bag, archive, report);
            };
        return options;
    }

    report::AuditedBag check_bag(const io::Path& path, flow::Observer& observer) {
        bagit::CheckOptions check = options(observer);
        if (is_archive(path)) return audit_archive(context_, path, std::move(check), books_);
        if (bytes_.limits())
            check.put_off = [this](std::string_view name, std::uint64_t size) {
                return !bytes_.take(size) && !books_.is_exchanged(name);
            };
        return audit_folder(context_, path, check, books_);
    }

    /// A bag that cannot be looked at does not keep the audit from the others.
    report::AuditedBag audit_bag(const io::Path& path, flow::Observer& observer) try {
        report::AuditedBag bag = check_bag(path, observer);
        if (profile_)
            bag.conforms = std::ranges::find(bag.report.findings, FindingKind::profile_mismatch,
                                             &Finding::kind) == bag.report.findings.end();
        return bag;
    } catch (const Error& error) {
        if (error.cause() == Cause::interrupted) throw;
        return unreadable_bag(path, error, request_.quick);
    }

    static report::AuditedBag unreadable_bag(const io::Path& path, const Error& error, bool quick) {
        report::AuditedBag bag;
        bag.report.path = path.string();
        bag.report.name = path.filename().string();
        if (!quick) bag.report.valid = false;
        bag.report.findings.push_back(found(FindingKind::unreadable, "", error.sentence()));
        return bag;
    }

    void conclude() {
        if (result_.bags.empty() && result_.left.empty() && result_.ending == Ending::good &&
            !context_.stop.stop_requested())
            throw no_bag(request_.paths.front());
        result_.rates = books_.rates();
        std::ranges::move(books_.take_findings(), std::back_inserter(result_.findings));
        if (context_.stop.stop_requested()) result_.ending = Ending::interrupted;
        recorder_.drives(result_, request_.paths);
        result_.finished = context_.files.now();
    }

    const Context& context_;
    const AuditRequest& request_;
    AuditBooks books_;
    AuditRecorder recorder_;
    TimeBudget time_;
    ByteBudget bytes_;
    std::optional<bagit::Profile> profile_;
    std::vector<io::Path> bags_;
    std::vector<io::Path> archives_;  ///< those of `bags_` that are archive files
    std::vector<std::optional<bagit::BagReport>>
        looks_;  ///< before the reading, of each of `bags_`
    std::vector<io::Path> gone_;
    report::AuditResult result_;
};

}  // namespace

report::AuditResult audit(const Context& context, const AuditRequest& request) {
    return Audit(context, request).run();
}

}  // namespace glassine::journeys

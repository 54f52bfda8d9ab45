#include "journeys/audit_books.h"

#include "glassine/bagit/layout.h"
#include "glassine/base/text.h"
#include "journeys/bag_record.h"
#include "journeys/mend_proofs.h"
#include "journeys/places.h"

#include <algorithm>
#include <iterator>
#include <tuple>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

/// What was proven so long ago is read again: an audit that takes longer than this is none.
constexpr std::int64_t longest_pause = 30LL * 86'400 * 1'000'000'000;
/// How much of an audit is lost at most when the program or the computer dies.
constexpr auto between_notes = std::chrono::seconds(2);

}  // namespace

void AuditBooks::arrange(std::vector<io::Path>& bags) try {
    shelf::Register* books = records_.register_if_any();
    if (books == nullptr) return;
    const shelf::Facts facts = books->facts();
    std::map<std::string, std::map<std::string, shelf::PlannedAudit>> plans;
    // Across volumes: with a budget, the first of them would else be read again and again.
    using Turn = std::tuple<bool, std::optional<Timestamp>>;
    std::vector<std::pair<Turn, io::Path>> turns;
    for (const io::Path& bag : bags) {
        Turn turn{false, std::nullopt};
        const io::Path resolved = context_.files.resolve(bag);
        if (const shelf::FoundVolume* volume = records_.volume_of(resolved)) {
            const std::string& id = volume->identity.id;
            const auto [plan, is_new] = plans.try_emplace(id);
            if (is_new)
                for (shelf::PlannedAudit& audit : shelf::plan_audit(facts, id))
                    plan->second.emplace(audit.path, std::move(audit));
            const auto planned = plan->second.find(volume->relative(resolved));
            if (planned != plan->second.end())
                turn = {planned->second.risk == shelf::Risk::none, planned->second.judged};
        }
        turns.emplace_back(turn, bag);
    }
    std::ranges::stable_sort(turns, {}, &std::pair<Turn, io::Path>::first);
    std::ranges::transform(turns, bags.begin(), &std::pair<Turn, io::Path>::second);
} catch (const Error& error) {
    findings_.push_back(
        found(FindingKind::not_recorded, context_.register_file.string(), error.sentence()));
}

void AuditBooks::look(const io::Path& bag, bagit::CheckOptions& options) try {
    store_.reset();
    store_.emplace(context_, records_, bag);
    options.look = [this, quick = options.quick, further = std::move(options.look)](
                       const bagit::Bag& met, std::string_view archive, const auto& report) {
        store_->look(met);
        if (quick)
            for (Finding& finding : exchanged())
                report(std::move(finding));
        if (further) further(met, archive, report);
    };
    if (!options.quick) options.on_proven = [this](std::string_view name) { store_->proven(name); };
} catch (const Error& error) {
    findings_.push_back(found(FindingKind::not_recorded, bag.string(), error.sentence()));
}

void AuditBooks::look_at_archive(const io::Path& archive) try {
    store_.reset();
    store_.emplace(context_, records_, archive);
    store_->look_at_archive();
} catch (const Error& error) {
    findings_.push_back(found(FindingKind::not_recorded, archive.string(), error.sentence()));
}

std::vector<Finding> AuditBooks::exchanged() const {
    return store_ ? store_->findings() : std::vector<Finding>();
}

void AuditBooks::begin(const io::Path& bag, bagit::CheckOptions& options) try {
    progress_.reset();
    met_.reset();
    const io::Path resolved = context_.files.resolve(bag);
    const shelf::FoundVolume* volume = records_.volume_of(resolved);
    if (volume == nullptr || context_.register_file.empty()) return;
    const auto seal = digest_of_file(
        context_.files,
        resolved / bagit::manifest_file(bagit::ManifestKind::tag, digest::Algorithm::sha512),
        digest::Algorithm::sha512);
    if (!seal) return;
    records_.record_presence(bag, seal->hex());
    shelf::Register* books = records_.register_if_any();
    if (books == nullptr) return;
    progress_.emplace();
    AuditCourse& progress = *progress_;
    progress.key = {resolved.filename().string(), seal->hex()};
    progress.volume = volume->identity.id;
    progress.began = context_.files.now();
    progress.written = std::chrono::steady_clock::now();
    shelf::AuditProgress before = books->audit_progress(progress.key, progress.volume);
    if (before.since && progress.began.nanoseconds - before.since->nanoseconds > longest_pause) {
        books->forget_audit_progress(progress.key, progress.volume);
        before = {};
    }
    progress.since = before.since;
    progress.before = {before.files.begin(), before.files.end()};
    options.proven_before = [this, resolved](std::string_view name) {
        if (!progress_->before.contains(name) || is_exchanged(name)) return false;
        // Whoever wrote to it since has to be read again.
        const auto info = context_.files.find(resolved / name);
        if (!info || info->modified > *progress_->since) return false;
        ++progress_->taken;
        return true;
    };
    options.on_proven = [this, further = std::move(options.on_proven)](std::string_view name) {
        if (further) further(name);
        progress_->fresh.emplace_back(name);
        if (std::chrono::steady_clock::now() - progress_->written > between_notes) flush();
    };
} catch (const Error& error) {
    progress_.reset();
    findings_.push_back(found(FindingKind::not_recorded, bag.string(), error.sentence()));
}

void AuditBooks::begin_archive(bool compressed, bagit::CheckOptions& options) {
    progress_.reset();
    met_.reset();
    if (!compressed || context_.register_file.empty()) return;
    options.look = [this, further = std::move(options.look)](
                       const bagit::Bag& bag, std::string_view archive, const auto& report) {
        met_ = bag_record(bag, archive);
        if (further) further(bag, archive, report);
    };
}

void AuditBooks::flush() {
    if (store_) store_->write();
    if (!progress_) return;
    AuditCourse& progress = *progress_;
    progress.written = std::chrono::steady_clock::now();
    if (progress.fresh.empty()) return;
    try {
        if (shelf::Register* books = records_.register_if_any())
            books->add_audit_progress(progress.key, progress.volume, progress.began,
                                      progress.fresh);
    } catch (const Error&) {
        // Then the next audit reads these files again; nothing else depends on it.
        progress.fresh.clear();
    }
    progress.fresh.clear();
}

/// A seal that is not the one on record: content and manifests fit together and are yet not what
/// was sealed. (In a bag that is damaged by its own manifests the tag manifest may have rotted.)
void AuditBooks::judge_seal(bagit::BagReport& bag) {
    if (!bag.seal || !bag.complete || (bag.valid && !*bag.valid)) return;
    const auto verdict = records_.judge_seal(bag.path, shelved_name(context_, bag), *bag.seal);
    if (verdict == shelf::SealVerdict::replaced)
        bag.findings.push_back(
            found(FindingKind::replaced_since_sealed, "",
                  "it fits together, but its seal is none that this bag was ever given: content "
                  "and manifests were exchanged together"));
    if (verdict == shelf::SealVerdict::disputed)
        bag.findings.push_back(
            found(FindingKind::replaced_since_sealed, "",
                  "another copy of this bag carries another seal, and no record tells which of "
                  "them was sealed: in one of the two content and manifests were exchanged"));
    sort_findings(bag.findings);
}

bool AuditBooks::end(report::AuditedBag& bag, bool quick) {
    bagit::BagReport& report = bag.report;
    // A look has nothing to do with the reading that went before it.
    if (quick) progress_.reset();
    const bool unread = std::ranges::any_of(
        report.findings, [](const Finding& f) { return f.severity == Severity::damage; });
    const bool there = !unread || records_.still_there(report.path);
    if (progress_) bag.proven_before = progress_->taken;
    if (there) compare_checksums(bag, quick);
    if (report.stopped || !there) {
        flush();
        if (there && unread) note_damage_so_far(report, quick);
        if (!there) {
            report.stopped = true;
            report.valid.reset();
            report.findings = {found(
                FindingKind::unreadable, "",
                is_in_store(report.path)
                    ? "not read: the store does not answer any more; when it does, run the audit "
                      "again, it goes on where it stopped"
                    : "the volume was taken away while it was read; connect it and run the audit "
                      "again, it goes on where it stopped")};
        }
        return there;
    }
    judge_seal(report);
    if (!quick) note_rate(report);
    const auto since = progress_ && progress_->taken > 0 ? progress_->since : std::nullopt;
    if (met_) met_->name = shelved_name(context_, report);
    records_.record_check(report, quick, since, std::exchange(met_, std::nullopt));
    progress_.reset();
    return true;
}

void AuditBooks::compare_checksums(report::AuditedBag& bag, bool quick) {
    if (!store_) return;
    if (!quick && !bag.report.stopped && bag.report.valid.value_or(false)) store_->all_proven();
    store_->conclude(quick, bag);
    store_->write();
    store_.reset();
}

/// What was read is damaged, whatever the rest is like. To write that down ends what was noted of
/// the audit under way, so that is noted again.
void AuditBooks::note_damage_so_far(const bagit::BagReport& bag, bool quick) try {
    shelf::AuditProgress so_far;
    shelf::Register* books = progress_ ? records_.register_if_any() : nullptr;
    if (books != nullptr) so_far = books->audit_progress(progress_->key, progress_->volume);
    records_.record_check(bag, quick, {}, std::exchange(met_, std::nullopt));
    if (books != nullptr && so_far.since)
        books->add_audit_progress(progress_->key, progress_->volume, *so_far.since, so_far.files);
} catch (const Error& error) {
    findings_.push_back(found(FindingKind::not_recorded, bag.path, error.sentence()));
}

void AuditBooks::note_rate(const bagit::BagReport& bag) try {
    const io::Path resolved = context_.files.resolve(bag.path);
    const shelf::FoundVolume* volume = records_.volume_of(resolved);
    shelf::Register* books = records_.register_if_any();
    if (volume == nullptr || books == nullptr || bag.bytes_read == 0) return;
    const auto [at, is_new] = rates_.try_emplace(volume->identity.id);
    if (is_new) {
        at->second.label = volume->identity.label;
        at->second.earlier = books->rates(volume->identity.id);
    }
    at->second.now.push_back(
        {shelved_name(context_, bag), context_.files.now(), bag.bytes_read, bag.seconds});
} catch (const Error& error) {
    findings_.push_back(found(FindingKind::not_recorded, bag.path, error.sentence()));
}

std::vector<report::VolumeRate> AuditBooks::rates() {
    std::vector<report::VolumeRate> out;
    for (const auto& [id, rates] : rates_) {
        const auto comparison = shelf::compare_rates(rates.earlier, rates.now);
        if (!comparison) continue;
        out.push_back({rates.label, comparison->now, comparison->usual});
        if (auto slow = shelf::slow_volume(*comparison, rates.label))
            findings_.push_back(std::move(*slow));
    }
    return out;
}

std::vector<Finding> AuditBooks::take_findings() {
    std::vector<Finding> all = std::exchange(findings_, {});
    std::ranges::move(records_.take_findings(), std::back_inserter(all));
    sort_findings(all);
    return all;
}

}  // namespace glassine::journeys

#include "glassine/bagit/findings_log.h"

#include "glassine/base/text.h"

#include <algorithm>

#include <fmt/format.h>

namespace glassine::bagit {
namespace {

using enum FindingKind;

/// bytes that a finding takes with its texts: what the limit on their number stands for.
constexpr std::size_t usual_cost = 320;

/// Findings that leave a checksum refuted or unverified, whatever they weigh; all that is required
/// may be there.
bool leaves_unproven(FindingKind kind) {
    return kind == payload_altered || kind == tag_altered || kind == unreadable ||
           kind == changed_while_reading || kind == algorithm_unknown ||
           kind == replaced_since_sealed;
}

/// What a profile asks for on top: complete and valid are the standard's words alone.
bool beyond_the_standard(FindingKind kind) {
    return kind == profile_mismatch || kind == profile_malformed;
}

}  // namespace

FindingsLog::FindingsLog(FindingsLog&& other) noexcept {
    *this = std::move(other);
}

FindingsLog& FindingsLog::operator=(FindingsLog&& other) noexcept {
    if (this == &other) return *this;
    const std::scoped_lock lock(mutex_, other.mutex_);
    most_ = other.most_;
    damage_bytes_ = other.damage_bytes_;
    other_bytes_ = other.other_bytes_;
    kept_ = std::move(other.kept_);
    overflow_ = std::move(other.overflow_);
    incomplete_ = other.incomplete_;
    unproven_ = other.unproven_;
    return *this;
}

void FindingsLog::add(Finding finding) {
    const std::lock_guard lock(mutex_);
    const bool damage = finding.severity == Severity::damage;
    if (leaves_unproven(finding.kind))
        unproven_ = true;
    else if (damage && !beyond_the_standard(finding.kind))
        incomplete_ = true;
    std::size_t& used = damage ? damage_bytes_ : other_bytes_;
    const std::size_t cost = sizeof(Finding) + finding.path.size() + finding.detail.size();
    if (used + cost <= most_ / 2 * usual_cost) {
        used += cost;
        kept_.push_back(std::move(finding));
        return;
    }
    Overflow& over = overflow_[finding.kind];
    ++over.count;
    over.severity = std::max(over.severity, finding.severity);
}

void FindingsLog::mark_incomplete() {
    const std::lock_guard lock(mutex_);
    incomplete_ = true;
}

std::vector<Finding> FindingsLog::take_sorted() {
    const std::lock_guard lock(mutex_);
    std::vector<Finding> out = std::move(kept_);
    kept_.clear();
    sort_findings(out);
    for (const auto& [kind, over] : overflow_)
        out.push_back(found(kind, over.severity, "",
                            fmt::format("and {} of this kind, not listed one by one",
                                        text::grouped(over.count) + " more")));
    return out;
}

bool FindingsLog::any(FindingKind kind) const {
    const std::lock_guard lock(mutex_);
    return overflow_.contains(kind) ||
           std::ranges::find(kept_, kind, &Finding::kind) != kept_.end();
}

bool FindingsLog::incomplete() const {
    const std::lock_guard lock(mutex_);
    return incomplete_;
}

bool FindingsLog::unproven() const {
    const std::lock_guard lock(mutex_);
    return unproven_;
}

}  // namespace glassine::bagit

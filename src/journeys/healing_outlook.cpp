#include "journeys/healing_outlook.h"

#include "glassine/bagit/layout.h"
#include "glassine/recovery/rebuilder.h"

#include <algorithm>
#include <iterator>
#include <set>

namespace glassine::journeys {
namespace {

bool says_damaged(const Finding& finding) {
    using enum FindingKind;
    constexpr std::array kinds{payload_altered, payload_missing, tag_altered, tag_missing,
                               unreadable};
    return finding.severity == Severity::damage &&
           std::ranges::find(kinds, finding.kind) != kinds.end();
}

void tell_where(Finding& finding, const recovery::FileDamage& damage) {
    if (!finding.detail.empty()) finding.detail += "; ";
    finding.detail += recovery::describe(damage);
    if (finding.offset || damage.ranges.empty()) return;
    finding.offset = damage.ranges.front().offset;
    const recovery::DamagedRange& last = damage.ranges.back();
    finding.length = last.offset + last.length - *finding.offset;
}

std::string outlook_sentence(const recovery::Outlook& outlook) {
    std::string how = recovery::describe(outlook);
    if (outlook.nothing_beyond()) return "healable from its own recovery data: " + how;
    return "needs another copy: " + how;
}

}  // namespace

HealingOutlook::HealingOutlook(const Context& context, const io::Path& bag)
    : context_(context),
      bag_(context.files.resolve(bag)),
      set_(context.files, bag_),
      locator_(set_) {}

std::vector<flow::Sink*> HealingOutlook::sinks() {
    if (set_.empty()) return {};
    return {&locator_};
}

/// A check does not read bagit.txt through the river; damage in it is located by itself.
void HealingOutlook::add_unseen(const std::set<std::string>& wrong,
                                std::vector<recovery::FileDamage>& damages) {
    const std::string name(bagit::declaration_file);
    if (!wrong.contains(name) || set_.find(name) == nullptr ||
        std::ranges::find(damages, name, &recovery::FileDamage::name) != damages.end())
        return;
    std::ranges::move(recovery::locate(context_.files, bag_, set_, {name}),
                      std::back_inserter(damages));
}

void HealingOutlook::conclude(bagit::BagReport& report, std::string& outlook) {
    if (set_.empty() || report.stopped) return;
    std::set<std::string> wrong;
    for (const Finding& f : report.findings) {
        if (!says_damaged(f)) continue;
        wrong.insert(f.path);
        if (f.kind == FindingKind::payload_missing || f.kind == FindingKind::tag_missing)
            locator_.lost(f.path);
    }
    for (const Finding& f : set_.findings())
        if (!wrong.contains(f.path)) report.findings.push_back(f);
    std::vector<recovery::FileDamage> damages =
        locator_.damages([&](std::string_view name) { return !wrong.contains(std::string(name)); });
    std::erase_if(damages, [&](const recovery::FileDamage& d) { return !wrong.contains(d.name); });
    add_unseen(wrong, damages);
    for (Finding& f : report.findings) {
        const auto at = std::ranges::find(damages, f.path, &recovery::FileDamage::name);
        if (says_damaged(f) && at != damages.end()) tell_where(f, *at);
    }
    if (damages.empty()) return;
    recovery::RebuildOptions options;
    options.stop = context_.stop;
    outlook = outlook_sentence(
        recovery::Rebuilder(context_.files, bag_, set_, std::move(damages), options).outlook());
    sort_findings(report.findings);
}

}  // namespace glassine::journeys

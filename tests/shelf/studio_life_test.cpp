#include "glassine/shelf/due.h"
#include "shelf/studio_model.h"
#include "support/effort.h"
#include "support/temp_folder.h"

#include <algorithm>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::shelf;
using namespace glassine::test;

namespace {

constexpr int years = test::sanitized ? 7 : 10;
constexpr int jobs_a_month = test::sanitized ? 3 : 10;  // 120 a year

Register fresh_register(const io::Path& path) {
    Register::create(io::posix_file_system(), path);
    return Register(io::posix_file_system(), path);
}

/// The register knows of exactly the copies that stand, and what was last learnt of each.
void agrees_with_drives(const Facts& facts, const StudioModel& studio) {
    std::size_t standing = 0;
    std::size_t wrong = 0;
    for (const BagFacts& bag : facts.bags) {
        for (const CopyFacts& copy : bag.copies) {
            if (!copy.is_there()) continue;
            ++standing;
            const ModelVolume& volume = studio.volumes().at(copy.volume);
            const auto model = volume.copies.find(bag.name);
            const bool same =
                volume.alive && model != volume.copies.end() &&
                copy.proven == model->second.proven &&
                copy.state == (model->second.known_bad ? CopyState::damaged : CopyState::whole);
            if (!same) ++wrong;
        }
    }
    std::size_t really = 0;
    for (const auto& [id, volume] : studio.volumes()) {
        if (volume.alive) really += volume.copies.size();
    }
    CHECK(wrong == 0);
    CHECK(standing == really);
}

/// A card with files of one job, and sometimes one that nobody has.
void clears_only_what_is_held(Register& reg, StudioModel& studio) {
    const auto holdings = reg.holdings();
    Holdings* const all[] = {holdings.get()};
    for (int round = 0; round < 5; ++round) {
        const BagRecord& bag = *studio.bags()[studio.pick(studio.bags().size())];
        std::vector<MediumFile> card;
        for (const PayloadFile& file : bag.payload)
            card.push_back({file.path, 1, {file.digest}});
        card.push_back({"KLA_9999.NEF", 1, {bag.rejected[0].digest}});
        const bool stranger = studio.chance(0.2);
        if (stranger) card.push_back({"new.NEF", 1, {content("never closed out")}});
        const auto copies = static_cast<unsigned>(1 + studio.pick(3));
        const ClearanceQuestion question{card, {}, "card", copies, {12, 0}, studio.today()};
        const Clearance clearance = judge_clearance(question, all);
        const bool really = !stranger && studio.held(bag.name) >= copies;
        CHECK(clearance.clear == really);
    }
}

/// What two registers must agree on: everything about drives that still exist.
Facts of_living(Facts facts, const StudioModel& studio) {
    const auto dead = [&](const std::string& id) {
        const auto volume = studio.volumes().find(id);
        return volume == studio.volumes().end() || !volume->second.alive;
    };
    std::erase_if(facts.volumes,
                  [&](const VolumeFacts& volume) { return dead(volume.identity.id); });
    for (BagFacts& bag : facts.bags) {
        std::erase_if(bag.copies, [&](const CopyFacts& copy) {
            return dead(copy.volume) || copy.state == CopyState::gone;
        });
    }
    // A bag that was lost with its last drive is known to the kept register only.
    std::erase_if(facts.bags, [](const BagFacts& bag) { return bag.copies.empty(); });
    return facts;
}

void rebuilt_equals_kept(Register& kept, const StudioModel& studio) {
    const test::TempFolder home;
    Register rebuilt = fresh_register(home / "register.sqlite");
    studio.rebuild(rebuilt);
    const Facts facts = rebuilt.facts();
    CHECK(of_living(facts, studio) == of_living(kept.facts(), studio));
    studio.rebuild(rebuilt);
    CHECK(rebuilt.facts() == facts);
}

}  // namespace

TEST_CASE("ten years of a studio") {
    const test::TempFolder home;
    Register reg = fresh_register(home / "register.sqlite");
    StudioModel studio(reg, 20250906);
    const Policy policy;
    std::map<DueKind, std::size_t> worked_off;
    for (int month = 0; month < 12 * years; ++month) {
        studio.set_day(later(test::day("2016-01-31"), {static_cast<unsigned>(month), 0}));
        {
            Register::Batch batch(reg);
            for (int job = 0; job < jobs_a_month; ++job)
                studio.close_job();
            if (studio.chance(0.5)) studio.rot();
            if (studio.chance(0.02)) studio.lose_drive();
            batch.commit();
        }
        const Facts facts = reg.facts();
        INFO(iso_date(studio.today()));
        agrees_with_drives(facts, studio);
        const std::vector<DueItem> due = what_is_due(facts, policy, studio.today());
        CHECK(StudioModel::keys(due) == studio.due(policy));
        clears_only_what_is_held(reg, studio);
        {
            Register::Batch batch(reg);
            for (const DueItem& item : due) {
                if (!studio.chance(0.8)) continue;
                studio.work_off(item);
                ++worked_off[item.kind];
            }
            batch.commit();
        }
        if (month % 24 == 23) rebuilt_equals_kept(reg, studio);
    }
    CHECK(reg.facts().bags.size() == 12 * years * jobs_a_month);
    // The life was eventful enough to mean something.
    for (const DueKind kind :
         {DueKind::damaged_copy, DueKind::audit_at_risk, DueKind::too_few_copies,
          DueKind::audit_overdue, DueKind::replace_drive, DueKind::server_copy}) {
        INFO(word(kind));
        CHECK(worked_off[kind] > 5);
    }
}

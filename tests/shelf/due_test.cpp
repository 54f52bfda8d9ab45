#include "glassine/shelf/due.h"

#include "shelf/due_command.h"
#include "shelf/shelf_values.h"

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::shelf;
using namespace glassine::test;

namespace {

const Date today = test::day("2026-03-01");

/// A studio in order: one bag on a server, two drives and off site, all proven.
struct Kept {
    Facts facts;
    Policy policy;

    Kept() {
        const auto add = [&](const char* id, VolumeKind kind, const char* place) {
            VolumeFacts volume{
                test::volume(id, kind, place), "/mnt/" + std::string(id), {}, {}, {}, {}};
            facts.volumes.push_back(std::move(volume));
        };
        add("a", VolumeKind::drive, "cupboard A");
        add("b", VolumeKind::drive, "cupboard B");
        add("o", VolumeKind::offsite, "bank");
        add("s", VolumeKind::server, "office");
        BagFacts bag;
        bag.name = bag.job = "gala";
        bag.shoot_date = day("2025-09-06");
        bag.sealed = day("2025-09-20");
        bag.payload_files = 10;
        bag.payload_bytes = 1000;
        for (const char* id : {"a", "b", "o"})
            bag.copies.push_back(copy_on(id));
        facts.bags.push_back(std::move(bag));
    }

    static CopyFacts copy_on(const char* volume) {
        CopyFacts copy;
        copy.volume = volume;
        copy.path = "archive/gala";
        copy.seal = "s";
        copy.state = CopyState::whole;
        copy.made = copy.proven = copy.checked = at("2025-09-20");
        return copy;
    }
    BagFacts& bag() { return facts.bags[0]; }
    CopyFacts& copy(std::size_t index) { return bag().copies[index]; }
    VolumeFacts& volume(std::size_t index) { return facts.volumes[index]; }
    std::vector<DueItem> due(Date when = today) { return what_is_due(facts, policy, when); }
    DueItem only(DueKind kind, Date when = today) {
        const auto items = due(when);
        REQUIRE(items.size() == 1);
        CHECK(word(items[0].kind) == word(kind));
        return items[0];
    }
    void damage(std::size_t index, const char* when) {
        copy(index).state = CopyState::damaged;
        copy(index).trouble = "data/x.NEF: digest differs";
        copy(index).first_error = copy(index).last_error = at(when);
        for (VolumeFacts& volume : facts.volumes) {
            if (volume.identity.id != copy(index).volume) continue;
            volume.first_error = volume.last_error = at(when);
        }
    }
};

}  // namespace

TEST_CASE("nothing is due in a studio in order") {
    Kept kept;
    CHECK(kept.due().empty());
    CHECK(what_is_due({}, {}, today).empty());
}

TEST_CASE("an audit is due on the day one interval after the last, by the calendar") {
    Kept kept;
    kept.copy(0).proven = at("2024-02-29");
    kept.copy(1).proven = kept.copy(2).proven = at("2025-03-20");
    CHECK(kept.due(day("2025-02-27")).empty());
    const DueItem item = kept.only(DueKind::audit_overdue, day("2025-02-28"));
    CHECK(item.since == day("2025-02-28"));
    CHECK(item.volume == "a");
    CHECK(item.bags == std::vector<std::string>{"gala"});
    CHECK(item.what == "A (cupboard A): an audit of 1 bag is due, since 2025-02-28");
    CHECK(item.command == "glassine audit /mnt/a");

    kept.policy.audit_every = {};
    CHECK(kept.due(day("2025-02-28")).empty());
}

TEST_CASE("a copy never proven is due at once") {
    Kept kept;
    kept.copy(1).proven.reset();
    kept.copy(1).state = CopyState::unproven;
    const DueItem item = kept.only(DueKind::audit_overdue);
    CHECK(item.volume == "b");
    CHECK(item.since == day("2025-09-20"));
}

TEST_CASE("audits of one volume are one item") {
    Kept kept;
    BagFacts other = kept.bag();
    other.name = "another";
    kept.facts.bags.insert(kept.facts.bags.begin(), other);
    const auto items = kept.due(day("2026-09-20"));
    REQUIRE(items.size() == 3);
    for (const DueItem& item : items) {
        CHECK(item.kind == DueKind::audit_overdue);
        CHECK(item.bags == std::vector<std::string>{"another", "gala"});
    }
}

TEST_CASE("a damaged copy is healed from the best other one") {
    Kept kept;
    kept.damage(0, "2026-01-10");
    kept.copy(1).proven = at("2026-02-01");
    kept.copy(2).proven = at("2026-02-02");
    const DueItem item = kept.only(DueKind::damaged_copy);
    CHECK(item.since == day("2026-01-10"));
    CHECK(item.what == "gala: the copy on A (cupboard A) is damaged: data/x.NEF: digest differs");
    CHECK(item.command == "glassine mend /mnt/a/archive/gala --from /mnt/o/archive/gala");
}

TEST_CASE("a damaged archive is replaced by a whole copy, not healed in place") {
    Kept kept;
    kept.damage(0, "2026-01-10");
    kept.copy(0).packed = true;
    kept.copy(0).path = "archive/gala.tar";
    kept.copy(1).proven = at("2026-02-01");
    kept.copy(2).proven = at("2026-02-02");
    const DueItem item = kept.only(DueKind::damaged_copy);
    CHECK(item.what.find("move it aside") != std::string::npos);
    CHECK(item.command == "glassine migrate /mnt/o/archive/gala --to /mnt/a/archive");
}

TEST_CASE("an archive beside its own folder is no further copy") {
    Kept kept;
    kept.bag().copies.pop_back();
    CopyFacts packed = kept.copy(1);
    packed.packed = true;
    kept.bag().copies.push_back(packed);
    const DueItem item = kept.only(DueKind::too_few_copies);
    CHECK(item.what.find("2 of 3 copies") != std::string::npos);
}

TEST_CASE("after an error the rest of the medium and the other copies are to be read") {
    Kept kept;
    BagFacts other = kept.bag();
    other.name = "other";
    kept.facts.bags.push_back(other);
    kept.damage(0, "2026-01-10");
    const auto items = kept.due();
    REQUIRE(items.size() == 4);
    CHECK(items[0].kind == DueKind::damaged_copy);
    for (std::size_t i = 1; i < 4; ++i)
        CHECK(items[i].kind == DueKind::audit_at_risk);
    // Of gala two copies are left, of the other bag three.
    CHECK(items[1].volume == "b");
    CHECK(items[1].bags == std::vector<std::string>{"gala"});
    CHECK(items[2].volume == "o");
    CHECK(items[3].volume == "a");
    CHECK(items[3].bags == std::vector<std::string>{"other"});
    CHECK(items[3].what == "A (cupboard A): an error was found on it; read 1 bag now");
    CHECK(items[3].command == "glassine audit /mnt/a");
}

TEST_CASE("a bag without a whole copy comes before everything else") {
    Kept kept;
    for (std::size_t i = 0; i < 3; ++i)
        kept.damage(i, "2026-01-10");
    const DueItem item = kept.only(DueKind::no_whole_copy);
    CHECK(item.command ==
          "glassine mend /mnt/a/archive/gala --from /mnt/b/archive/gala --from "
          "/mnt/o/archive/gala");

    for (CopyFacts& copy : kept.bag().copies)
        copy.state = CopyState::missing;
    CHECK(kept.only(DueKind::no_whole_copy).command == "glassine shelf find gala");

    kept.copy(0).state = CopyState::retired;
    kept.copy(1).state = kept.copy(2).state = CopyState::gone;
    CHECK(kept.only(DueKind::no_whole_copy).bags.front() == "gala");
}

TEST_CASE("a bag whose copies were all dropped on purpose is let go") {
    Kept kept;
    for (CopyFacts& copy : kept.bag().copies)
        copy.state = CopyState::gone;
    CHECK(kept.due(day("2050-01-01")).empty());
}

TEST_CASE("what the policy asks for and is not there is said, with a place to carry it to") {
    Kept kept;
    SECTION("no copy off site") {
        kept.copy(2).volume = "s";
        kept.bag().sealed = day("2026-01-01");
        const DueItem item = kept.only(DueKind::too_few_copies);
        CHECK(item.what == "gala: 0 of 1 copies off site");
        CHECK(item.command == "glassine migrate /mnt/a/archive/gala --to /mnt/o");
    }
    SECTION("a copy too few") {
        kept.bag().copies.erase(kept.bag().copies.begin());
        const DueItem item = kept.only(DueKind::too_few_copies);
        CHECK(item.what == "gala: 2 of 3 copies");
        CHECK(item.command == "glassine migrate /mnt/b/archive/gala --to /mnt/a");
    }
    SECTION("a copy that was not found") {
        kept.copy(0).state = CopyState::missing;
        kept.volume(0).retired.reset();
        CHECK(kept.only(DueKind::too_few_copies).what ==
              "gala: 2 of 3 copies; not found on A (cupboard A)");
    }
    SECTION("one kind of media only") {
        kept.policy.off_site = 0;
        kept.volume(2).identity.kind = VolumeKind::drive;
        CHECK(kept.only(DueKind::too_few_copies).what == "gala: 1 of 2 kinds of media");
    }
    SECTION("two copies on one volume") {
        CopyFacts more = kept.copy(0);
        more.seal = "older";
        kept.copy(1) = more;
        CHECK(kept.only(DueKind::too_few_copies).what == "gala: 2 of 3 volumes");
    }
    SECTION("nowhere to carry it to") {
        kept.bag().copies.erase(kept.bag().copies.begin());
        kept.volume(0).identity.capacity = 500;
        CHECK(kept.only(DueKind::too_few_copies).command.ends_with(" --to NEW-DRIVE"));
        kept.volume(0).identity.capacity = 5000;
        CHECK(kept.only(DueKind::too_few_copies).command.ends_with(" --to /mnt/a"));
        kept.volume(0).retired = at("2026-01-01");
        CHECK(kept.only(DueKind::too_few_copies).command.ends_with(" --to NEW-DRIVE"));
    }
}

TEST_CASE("a copy that was exchanged is looked into, not healed") {
    Kept kept;
    kept.copy(0).state = CopyState::replaced;
    const DueItem item = kept.only(DueKind::damaged_copy);
    CHECK(item.what == "gala: the copy on A (cupboard A) is not the one that was sealed");
    CHECK(item.command == "glassine audit /mnt/a/archive/gala /mnt/b/archive/gala");
}

TEST_CASE("a drive is to be replaced at its age, or when errors come a second time") {
    Kept kept;
    const auto prove = [&](const char* when) {
        for (CopyFacts& copy : kept.bag().copies)
            copy.proven = at(when);
    };
    SECTION("age") {
        kept.volume(0).identity.in_service = day("2021-03-01");
        const DueItem item = kept.only(DueKind::replace_drive);
        CHECK(item.volume == "a");
        CHECK(item.since == today);
        CHECK(item.what == "A (cupboard A) is to be replaced: in service since 2021-03-01");
        CHECK(item.command == "glassine migrate /mnt/a --to NEW-DRIVE");
        CHECK(kept.due(day("2026-02-28")).empty());
    }
    SECTION("an off-site drive as well, a server not") {
        kept.volume(2).identity.in_service = day("2021-03-01");
        kept.volume(3).identity.in_service = day("2001-03-01");
        CHECK(kept.only(DueKind::replace_drive).command == "glassine migrate /mnt/o --to OFF-SITE");
    }
    SECTION("a second error") {
        kept.volume(0).first_error = at("2025-10-01");
        kept.volume(0).last_error = at("2025-11-02");
        prove("2026-01-01");
        const DueItem item = kept.only(DueKind::replace_drive);
        CHECK(item.since == day("2025-11-02"));
        kept.volume(0).last_error = at("2025-11-01");
        CHECK(kept.due().empty());
    }
    SECTION("not when it is empty or out of service already") {
        kept.volume(0).identity.in_service = day("2021-03-01");
        kept.bag().copies.erase(kept.bag().copies.begin());
        kept.policy.copies = kept.policy.volumes = 2;
        CHECK(kept.due().empty());
    }
}

TEST_CASE("a server copy may go after its time when enough others are proven") {
    Kept kept;
    kept.bag().copies.push_back(Kept::copy_on("s"));
    for (CopyFacts& copy : kept.bag().copies)
        copy.proven = at("2026-09-01");
    CHECK(kept.due(day("2026-09-19")).empty());
    DueItem item = kept.only(DueKind::server_copy, day("2026-09-20"));
    CHECK(item.what == "gala: the copy on S (office) may go, 3 others are proven");
    CHECK(item.command == "glassine clear /mnt/s/archive/gala");

    SECTION("or move, when it is still needed") {
        kept.bag().copies.erase(kept.bag().copies.begin());
        item = kept.only(DueKind::server_copy, day("2026-09-20"));
        CHECK(item.what ==
              "gala: the copy on S (office) may move to the shelf; without it 2 of 3 copies are "
              "proven");
        CHECK(item.command == "glassine migrate /mnt/s/archive/gala --to /mnt/a");
    }
    SECTION("or stay for good") {
        kept.policy.server_keeps = {};
        CHECK(kept.due(day("2026-09-20")).empty());
    }
}

TEST_CASE("the day until which a bag was to be kept is counted from the shoot") {
    Kept kept;
    kept.policy.keep = {6, 0};
    kept.policy.promised = {3, 0};
    CHECK(kept.due(day("2026-03-06")).empty());
    const DueItem item = kept.only(DueKind::keep_ended, day("2026-03-07"));
    CHECK(item.since == day("2026-03-06"));
    CHECK(item.what ==
          "gala: to be kept until 2026-03-06; promised until 2025-12-06; decide whether it stays");
    SECTION("what was promised binds longer than what was meant") {
        kept.policy.promised = {8, 0};
        CHECK(kept.due(day("2026-05-06")).empty());
        CHECK(kept.only(DueKind::keep_ended, day("2026-05-07")).since == day("2026-05-06"));
    }
    kept.bag().keep_until = day("2027-01-01");
    CHECK(kept.due(day("2026-03-07")).empty());
    kept.policy.keep = {};
    kept.bag().keep_until.reset();
    CHECK(kept.due(day("2026-03-07")).empty());
}

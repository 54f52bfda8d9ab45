#include "glassine/shelf/standing.h"

#include "shelf/shelf_values.h"

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::shelf;
using namespace glassine::test;

namespace {

struct Job {
    Facts facts;
    BagFacts bag;
    Policy policy;

    Job() {
        bag.name = "gala";
        bag.shoot_date = day("2024-02-29");
        bag.payload_files = 10;
    }
    CopyFacts& add(const char* id, VolumeKind kind, const char* place,
                   const char* proven = "2025-09-01") {
        facts.volumes.push_back({test::volume(id, kind, place), "", {}, {}, {}, {}});
        CopyFacts copy;
        copy.volume = id;
        copy.state = *proven ? CopyState::whole : CopyState::unproven;
        if (*proven) copy.proven = at(proven);
        bag.copies.push_back(copy);
        return bag.copies.back();
    }
    Standing standing(const char* today = "2026-03-01") {
        return standing_of(facts, bag, policy, day(today));
    }
};

}  // namespace

// Levels: NDSA Levels of Digital Preservation 2.0 (2019), areas Storage and Integrity.

TEST_CASE("storage levels follow copies, places and kinds of media") {
    Job job;
    CHECK(job.standing().storage_level == 0);
    job.add("a", VolumeKind::drive, "cupboard A");
    CHECK(job.standing().storage_level == 0);
    job.add("b", VolumeKind::drive, "cupboard A");
    // Two disks in one room are not separate places.
    CHECK(job.standing().storage_level == 0);
    CHECK(job.standing().next_storage == "two proven copies in separate places");
    job.add("c", VolumeKind::drive, "cupboard B");
    CHECK(job.standing().storage_level == 1);
    job.add("o", VolumeKind::offsite, "bank");
    CHECK(job.standing().storage_level == 3);
    CHECK(job.standing().next_storage.empty());
    job.facts.volumes[0].identity.in_service.reset();
    CHECK(job.standing().storage_level == 2);
}

TEST_CASE("copies that are damaged, missing or never proven do not carry a storage level") {
    Job job;
    job.add("a", VolumeKind::drive, "cupboard A");
    CopyFacts& other = job.add("b", VolumeKind::drive, "cupboard B");
    CHECK(job.standing().storage_level == 1);
    for (const CopyState state : {CopyState::damaged, CopyState::missing, CopyState::replaced,
                                  CopyState::gone, CopyState::retired, CopyState::unproven}) {
        other.state = state;
        CHECK(job.standing().storage_level == 0);
    }
}

TEST_CASE("places that nobody wrote down cannot be shown to be separate") {
    Job job;
    job.add("a", VolumeKind::drive, "");
    job.add("b", VolumeKind::drive, "");
    CHECK(job.standing().storage_level == 0);
}

TEST_CASE("integrity levels follow checks") {
    Job job;
    CHECK(job.standing().integrity_level == 1);
    job.add("a", VolumeKind::drive, "x", "");
    CHECK(job.standing().integrity_level == 1);
    job.bag.copies[0].proven = at("2024-01-01");
    job.bag.copies[0].state = CopyState::whole;
    CHECK(job.standing().integrity_level == 2);
    job.bag.copies[0].proven = at("2026-01-01");
    CHECK(job.standing().integrity_level == 4);

    CopyFacts& broken = job.add("b", VolumeKind::drive, "y", "2026-01-01");
    broken.state = CopyState::damaged;
    broken.last_error = at("2026-02-01");
    CHECK(job.standing().integrity_level == 3);
    broken.state = CopyState::whole;
    broken.proven = at("2026-02-02");
    // Healed, but the other copy was not read again since.
    CHECK(job.standing().integrity_level == 3);
    job.bag.copies[0].proven = at("2026-02-03");
    CHECK(job.standing().integrity_level == 4);
    job.bag.payload_files = 0;
    CHECK(job.standing().integrity_level == 0);
}

TEST_CASE("copies in one place or of one purchase are named") {
    Job job;
    job.add("a", VolumeKind::drive, "cupboard A");
    job.add("b", VolumeKind::drive, "cupboard A");
    job.add("c", VolumeKind::drive, "cupboard C");
    job.facts.volumes[1].identity.purchase = job.facts.volumes[2].identity.purchase = "spring";
    CHECK(job.standing().weaknesses ==
          std::vector<std::string>{"A and B stand in one place: cupboard A",
                                   "B and C are of one purchase: spring"});
}

TEST_CASE("what is lacking and when it was last proven") {
    Job job;
    job.add("a", VolumeKind::drive, "cupboard A", "2025-01-01");
    job.add("b", VolumeKind::drive, "cupboard B", "2025-09-01");
    Standing standing = job.standing();
    CHECK(standing.copies == 2);
    CHECK(standing.whole == 1);
    CHECK(standing.proven == at("2025-01-01"));
    CHECK(standing.lacks == std::vector<std::string>{"2 of 3 copies", "0 of 1 copies off site",
                                                     "1 of 2 kinds of media"});
    job.add("c", VolumeKind::offsite, "bank", "");
    standing = job.standing();
    CHECK(standing.lacks.empty());
    CHECK_FALSE(standing.proven);
    CHECK(standing.off_site == 1);
}

TEST_CASE("what was promised and what is meant are two dates") {
    Job job;
    CHECK(job.standing().promised_until == day("2026-02-28"));
    CHECK(job.standing().keep_until == day("2034-02-28"));
    job.bag.promised_until = day("2030-01-01");
    CHECK(job.standing().promised_until == day("2030-01-01"));
    CHECK(job.standing().keep_until == day("2034-02-28"));
    job.policy.keep = {};
    CHECK_FALSE(job.standing().keep_until);
}

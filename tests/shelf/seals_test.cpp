#include "glassine/shelf/register.h"

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::shelf;

namespace {

using Rank = SealWitness::Rank;

SealWitness witness(const char* seal, const char* volume, Rank rank, std::int64_t when) {
    return {seal, volume, Timestamp{when}, rank};
}

SealWitness scanned(const char* seal, const char* volume) {
    return {seal, volume, std::nullopt, Rank::seen};
}

SealVerdict judge(std::vector<SealWitness> witnesses, const char* seal, const char* volume = "a") {
    return judge_seal(witnesses, seal, volume);
}

}  // namespace

TEST_CASE("a bag that nobody saw before is unknown") {
    CHECK(judge({}, "S1") == SealVerdict::unknown);
}

TEST_CASE("a seal that was given holds against whatever was seen later") {
    const std::vector<SealWitness> history{witness("S1", "a", Rank::given, 10),
                                           witness("S1", "a", Rank::seen, 20),
                                           witness("S2", "a", Rank::seen, 30)};
    CHECK(judge(history, "S1") == SealVerdict::as_sealed);
    CHECK(judge(history, "S2") == SealVerdict::replaced);
    CHECK(judge(history, "S3") == SealVerdict::replaced);
    CHECK(judge(history, "S1", "another drive") == SealVerdict::as_sealed);
}

TEST_CASE("a bag from before this program keeps the seal it had before it was given a new one") {
    const std::vector<SealWitness> history{witness("old", "a", Rank::seen, 5),
                                           witness("new", "b", Rank::given, 10)};
    CHECK(judge(history, "old") == SealVerdict::as_sealed);
    CHECK(judge(history, "new") == SealVerdict::as_sealed);
    CHECK(judge({witness("old", "a", Rank::given, 10), witness("new", "b", Rank::given, 10)},
                "old") == SealVerdict::as_sealed);
}

TEST_CASE("a copy made bears witness where no event gives a seal") {
    const std::vector<SealWitness> history{witness("S1", "b", Rank::carried, 10),
                                           scanned("S2", "a")};
    CHECK(judge(history, "S1") == SealVerdict::as_sealed);
    CHECK(judge(history, "S2") == SealVerdict::replaced);
}

TEST_CASE("without events a copy is compared with its own past, then with the others") {
    CHECK(judge({scanned("S1", "a")}, "S1") == SealVerdict::as_sealed);
    CHECK(judge({scanned("S1", "a")}, "S2") == SealVerdict::replaced);
    CHECK(judge({scanned("S1", "b")}, "S1") == SealVerdict::as_sealed);
    CHECK(judge({scanned("S1", "b")}, "S2") == SealVerdict::disputed);
    CHECK(judge({scanned("S1", "b"), scanned("S2", "c")}, "S1") == SealVerdict::disputed);
    CHECK(judge({witness("S1", "a", Rank::seen, 5), scanned("S2", "b")}, "S1") ==
          SealVerdict::as_sealed);
}

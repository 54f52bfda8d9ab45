#include "glassine/base/error.h"

#include <string>

#include <catch2/catch.hpp>

using namespace glassine;

TEST_CASE("an error says where, what, why and what to do next") {
    const Error full(Cause::no_space, "write", "drive/a.dng", "the volume is full",
                     "make room and run this again");
    CHECK(std::string(full.what()) ==
          "drive/a.dng: could not write: the volume is full; make room and run this again");
    CHECK(full.sentence() == "could not write: the volume is full; make room and run this again");
    CHECK(full.cause() == Cause::no_space);

    const Error bare(Cause::other, "start", "", "nothing is there");
    CHECK(std::string(bare.what()) == "could not start: nothing is there");
    CHECK(bare.next().empty());
}

TEST_CASE("a hostile path in an error cannot drive the terminal, but is kept as it is") {
    const Error error(Cause::not_found, "read", "a\x1b[2J\n.dng", "it is not there");
    CHECK(std::string(error.what()) == "a\\x1b[2J\\n.dng: could not read: it is not there");
    CHECK(error.path() == "a\x1b[2J\n.dng");
}

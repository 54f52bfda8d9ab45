#include "glassine/job/name.h"

#include "glassine/base/error.h"

#include <string>
#include <vector>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace std::chrono_literals;

namespace {

constexpr Date day = 2025y / 9 / 6;

std::string named(const std::vector<std::string>& clients, std::string_view about) {
    return job::job_name(day, clients, about);
}

std::string refusal(const std::vector<std::string>& clients, std::string_view about) {
    try {
        named(clients, about);
    } catch (const Error& error) {
        CHECK(error.cause() == Cause::usage);
        return error.sentence();
    }
    return {};
}

}  // namespace

TEST_CASE("a job's name is date, clients and description in portable letters") {
    CHECK(named({"Okafor", "Lindqvist"}, "Sailing Gala") ==
          "2025-09-06_okafor-lindqvist_sailing-gala");
    CHECK(named({"Lindqvist", "Okafor"}, "Sailing Gala") ==
          "2025-09-06_lindqvist-okafor_sailing-gala");
    CHECK(named({"Ünlü & Søndergård"}, "  Été à l'île!  ") ==
          "2025-09-06_unlu-sondergard_ete-a-lile");
}

TEST_CASE("what cannot be written in a name is refused by naming it") {
    CHECK(refusal({}, "Gala").find("no client is given") != std::string::npos);
    CHECK(refusal({"!!!"}, "Gala").find("the client has no letter") != std::string::npos);
    CHECK(refusal({"Okafor", "—"}, "Gala").find("client number 2 has no letter") !=
          std::string::npos);
    CHECK(refusal({"Okafor"}, " ").find("the description has no letter") != std::string::npos);
}

TEST_CASE("a long name is cut at a hyphen and stays a name") {
    const std::string words(
        "a very long description of a very long day by the sea and in the hall and later in the "
        "garden and at the station");
    const std::string name = named({"Okafor"}, words);
    CHECK(name.size() <= job::longest_name);
    CHECK(name.size() > job::longest_name - 20);
    CHECK(name.starts_with("2025-09-06_okafor_a-very-long-description-of-a-very-long-day"));
    CHECK_FALSE(name.ends_with('-'));
    CHECK(job::parse_job_name(name));

    const std::string crowd = named({words, words, "Lindqvist"}, words);
    CHECK(crowd.size() <= job::longest_name);
    CHECK(job::parse_job_name(crowd));

    const std::string no_hyphens = named({std::string(300, 'x')}, std::string(300, 'y'));
    CHECK(no_hyphens.size() == job::longest_name);
    CHECK(job::parse_job_name(no_hyphens));
}

TEST_CASE("a name is read back into its parts") {
    const auto parts = job::parse_job_name("2025-09-06_okafor-lindqvist_sailing-gala");
    REQUIRE(parts);
    CHECK(*parts == job::NameParts{day, "okafor-lindqvist", "sailing-gala"});
    for (const char* other :
         {"", "2025-09-06", "2025-09-06_okafor", "2025-02-30_okafor_gala", "2025-09-06__gala",
          "2025-09-06_okafor_", "2025-09-06_Okafor_gala", "2025-09-06_okafor_gala_two",
          "x2025-09-06_okafor_gala", "2025-09-06_okafor_ga la"}) {
        CAPTURE(other);
        CHECK_FALSE(job::parse_job_name(other));
    }
}

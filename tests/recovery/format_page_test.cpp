#include "glassine/base/text.h"
#include "glassine/digest/digest.h"
#include "recovery/small_bag.h"
#include "support/temp_folder.h"

#include <sstream>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::test;

TEST_CASE("the example on the page about the format is what Glassine writes") {
    Contents files{{"data/b.txt", "Hello, world!\n"}, {"data/none", ""}};
    for (int i = 0; i < 100; ++i)
        files["data/a.txt"].push_back(static_cast<char>(7 * i));
    const Contents recovery = recovery_for(files, small_blocks(64, 500));
    REQUIRE(recovery.size() == 1);
    const std::string& file = recovery.at("recovery/payload-0001.recovery");

    const std::string page = content_of(SOURCE_TREE "/docs/recovery-format.md");
    std::istringstream lines(page.substr(page.find("offset  bytes")));
    std::string line;
    std::getline(lines, line);
    int compared = 0;
    while (std::getline(lines, line) && line != "```") {
        std::string hex = line.substr(8, 48);
        std::erase(hex, ' ');
        std::vector<std::byte> bytes;
        REQUIRE(text::from_hex(hex, bytes));
        INFO(line);
        const auto in_file = file.substr(std::stoul(line.substr(0, 4)), bytes.size());
        CHECK(text::hex(bytes_of(in_file)) == hex);
        ++compared;
    }
    CHECK(compared == 22);
    CHECK(page.find("`" + digest::digest_of(digest::Algorithm::sha256, file).hex() + "`") !=
          std::string::npos);
    CHECK(page.find(std::to_string(file.size()) + " bytes:") != std::string::npos);
}

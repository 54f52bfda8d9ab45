#include "glassine/digest/digest.h"
#include "glassine/recovery/locator.h"
#include "recovery/damage_machine.h"
#include "support/temp_folder.h"

#include <cstdio>
#include <set>

#include <catch2/catch.hpp>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

using namespace glassine;
using namespace glassine::recovery;
using namespace glassine::test;

/// Glassine beside tests/recovery/decoder.py, which was written from docs/recovery-format.md alone
/// and shares nothing with it.
namespace {

using Names = std::set<std::string>;

std::string manifest_of(const Contents& files, bool payload) {
    std::string lines;
    for (const auto& [name, content] : files) {
        if (name.starts_with("data/") != payload) continue;
        lines += digest::digest_of(digest::Algorithm::sha512, content).hex() + "  " + name + "\n";
    }
    return lines;
}

/// A damaged bag; its manifests are left alone, so that both readers know the same digests.
struct DamagedBag {
    Contents sealed;
    MemoryFiles files;
    bool usable = true;

    explicit DamagedBag(unsigned seed) {
        DamageMachine machine(seed);
        sealed = machine.files();
        sealed["manifest-sha512.txt"] = manifest_of(sealed, true);
        Contents& bag = files.copies["bag"];
        bag = sealed;
        bag.merge(recovery_for(sealed, machine.options()));
        std::vector<std::string> names;
        for (const auto& [name, content] : bag) {
            if (name != "manifest-sha512.txt") names.push_back(name);
        }
        bag["tagmanifest-sha512.txt"] = manifest_of(bag, false);
        machine.damage(bag, names, 1 + machine.below(25));
    }

    bool is_whole(std::string_view name) const {
        const auto& bag = files.copies.at("bag");
        const auto found = bag.find(std::string(name));
        return found != bag.end() && found->second == sealed.at(std::string(name));
    }
};

std::vector<nlohmann::json> run_decoder(const std::string& arguments) {
    const std::string command =
        std::string("python3 ") + SOURCE_TREE "/tests/recovery/decoder.py" + arguments;
    std::FILE* pipe = popen(command.c_str(), "r");
    REQUIRE(pipe != nullptr);
    std::string output;
    for (int c = std::fgetc(pipe); c != EOF; c = std::fgetc(pipe))
        output.push_back(static_cast<char>(c));
    REQUIRE(pclose(pipe) == 0);
    std::vector<nlohmann::json> lines;
    std::istringstream stream(output);
    for (std::string line; std::getline(stream, line);)
        lines.push_back(nlohmann::json::parse(line));
    return lines;
}

}  // namespace

TEST_CASE("an independent decoder heals what Glassine heals and refuses what Glassine refuses") {
    constexpr unsigned bags = 60;
    TempFolder folder;
    std::vector<std::unique_ptr<DamagedBag>> damaged;
    std::string arguments;
    for (unsigned seed = 0; seed < bags; ++seed) {
        damaged.push_back(std::make_unique<DamagedBag>(seed));
        const std::string name = "bag" + std::to_string(seed);
        for (const auto& [file, content] : damaged.back()->files.copies["bag"])
            folder.write(name + "/" + file, content);
        arguments += " " + (folder / name).string() + " " + (folder / (name + "-healed")).string();
    }
    const auto answers = run_decoder(arguments);
    REQUIRE(answers.size() == bags);

    std::size_t healed_by_both = 0, beyond_both = 0;
    for (unsigned seed = 0; seed < bags; ++seed) {
        INFO("seed " << seed);
        DamagedBag& bag = *damaged[seed];
        RecoverySet set(bag.files, "bag");
        const auto proven = [&](std::string_view name) { return bag.is_whole(name); };
        Rebuilder rebuilder(bag.files, "bag", set, locate(bag.files, "bag", set, {}, proven));
        KeepingReceiver receiver;
        rebuilder.run(receiver);

        Names unusable;
        bool all_there = true;
        for (const auto& finding : set.findings()) {
            if (finding.detail.ends_with("can be used")) unusable.insert(finding.path);
            all_there = all_there && !finding.detail.ends_with("can be used") &&
                        !finding.detail.ends_with("lost");
        }
        CHECK(answers[seed].at("unusable").get<Names>() == unusable);
        const auto healed = answers[seed].at("healed").get<Names>();
        for (const auto& name : healed) {
            REQUIRE(content_of(folder / ("bag" + std::to_string(seed) + "-healed/" + name)) ==
                    bag.sealed.at(name));
        }
        Names healed_here;
        for (const auto& [name, content] : receiver.healed) {
            REQUIRE(content == bag.sealed.at(name));
            healed_here.insert(name);
        }
        // With a recovery file lost, Glassine still mends the parts of a file that other windows
        // cover.
        if (!all_there) continue;
        CHECK(healed == healed_here);
        const auto& beyond = rebuilder.outlook().beyond;
        CHECK(answers[seed].at("beyond").get<Names>() == Names(beyond.begin(), beyond.end()));
        healed_by_both += healed.size();
        beyond_both += beyond.size();
    }
    CHECK(healed_by_both > 50);
    CHECK(beyond_both > 10);
}

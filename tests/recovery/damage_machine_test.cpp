#include "recovery/damage_machine.h"

#include "glassine/recovery/locator.h"
#include "glassine/recovery/recovery_set.h"
#include "recovery/packet.h"
#include "support/effort.h"

#include <set>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::recovery;
using namespace glassine::test;

namespace {

/// A bag as it was sealed and as it is now, with what follows from comparing the two byte by byte.
struct Case {
    Contents sealed;
    Contents recovery;
    MemoryFiles files;

    Contents& bag() { return files.copies["bag"]; }

    /// What an audit finds, which has the digests of the files from their manifest.
    std::vector<FileDamage> damages(RecoverySet& set) {
        return locate(files, "bag", set, {},
                      [this](std::string_view name) { return is_whole(std::string(name)); });
    }

    bool is_whole(const std::string& name) {
        const auto found = bag().find(name);
        return found != bag().end() && found->second == sealed.at(name);
    }

    /// The packets of a recovery file as it was made.
    static std::vector<std::string> packets(const std::string& file, std::uint32_t block_size) {
        std::vector<std::string> packets;
        for (std::size_t at = 0; at < file.size();) {
            std::size_t length = 0;
            for (int i = 0; i < 4; ++i)
                length |= static_cast<std::size_t>(static_cast<unsigned char>(file[at + 16 + i]))
                          << (8 * i);
            REQUIRE(length <= block_size);
            packets.push_back(file.substr(at, header_size + length));
            at += header_size + length;
        }
        return packets;
    }

    /// Which repair blocks of a window are left, and whether its whole index is.
    std::set<std::uint32_t> repair_left(const Window& window, bool& index_whole) {
        const std::string name = file_name(window.group, window.number);
        const std::string& now = bag()[name];
        const auto all = packets(recovery.at(name), window.geometry.block_size);
        const std::size_t index_packets = (all.size() - window.geometry.repair_blocks()) / 2;
        index_whole = true;
        for (std::size_t i = 0; i < index_packets; ++i)
            index_whole &= now.find(all[i]) != std::string::npos;
        std::set<std::uint32_t> left;
        for (std::uint32_t i = 0; i < window.geometry.repair_blocks(); ++i) {
            if (now.find(all[index_packets + i]) != std::string::npos) left.insert(i);
        }
        return left;
    }

    bool block_is_whole(const Window& window, std::uint32_t block) {
        const Extent& extent = window.extent_of(block);
        const auto found = bag().find(extent.name);
        const std::string right =
            sealed.at(extent.name).substr(window.offset_of(block), window.bytes_of(block));
        return found != bag().end() && found->second.size() >= window.offset_of(block) &&
               found->second.substr(window.offset_of(block), right.size()) == right;
    }
};

Case make_case(DamageMachine& machine) {
    Case made;
    made.sealed = machine.files();
    made.recovery = recovery_for(made.sealed, machine.options());
    made.bag() = made.sealed;
    made.bag().insert(made.recovery.begin(), made.recovery.end());
    std::vector<std::string> names;
    for (const auto& [name, content] : made.bag()) {
        const unsigned weight = name.starts_with("recovery/") ? 1 : 2;
        names.insert(names.end(), weight, name);
    }
    machine.damage(made.bag(), names, 1 + machine.below(machine.chance(30) ? 40 : 8));
    return made;
}

/// Files that cannot be healed by counting lost blocks against repair blocks, the way the format's
/// page has it; false in `certain` when part of an index is lost, so that less may be known than is
/// there.
std::set<std::string> beyond_by_counting(Case& made, const std::vector<Window>& windows,
                                         bool& certain) {
    std::set<std::string> beyond;
    certain = true;
    for (const auto& window : windows) {
        bool index_whole = false;
        const auto repair = made.repair_left(window, index_whole);
        certain = certain && index_whole;
        std::map<std::uint32_t, std::vector<std::uint32_t>> lost;
        for (std::uint32_t block = 0; block < window.geometry.blocks; ++block) {
            if (!made.block_is_whole(window, block))
                lost[block % window.geometry.words].push_back(block);
        }
        for (const auto& [word, blocks] : lost) {
            std::size_t usable = 0;
            for (std::uint32_t r = 0; r < window.geometry.m; ++r)
                usable += repair.contains(r * window.geometry.words + word);
            if (blocks.size() <= usable) continue;
            for (const auto block : blocks)
                beyond.insert(window.extent_of(block).name);
        }
    }
    return beyond;
}

/// The windows as they were made, read from the recovery files before the damage.
std::vector<Window> windows_of(const Contents& recovery) {
    MemoryFiles files;
    files.copies["bag"] = recovery;
    RecoverySet set(files, "bag");
    std::vector<Window> windows;
    for (const auto& covered : set.windows())
        windows.push_back(covered.window);
    return windows;
}

constexpr unsigned bags = sanitized ? 400 : 3000;

}  // namespace

TEST_CASE("every damaged bag is healed bit for bit, or told truly to be beyond repair") {
    int healed_files = 0, beyond_files = 0, uncertain = 0;
    for (unsigned seed = 0; seed < bags; ++seed) {
        INFO("seed " << seed);
        DamageMachine machine(seed);
        Case made = make_case(machine);
        const auto windows = windows_of(made.recovery);
        bool certain = false;
        const auto beyond = beyond_by_counting(made, windows, certain);

        RecoverySet set(made.files, "bag");
        auto damages = made.damages(set);
        Rebuilder rebuilder(made.files, "bag", set, damages);
        KeepingReceiver receiver;
        rebuilder.run(receiver);

        // Never a wrong byte.
        for (const auto& [name, content] : receiver.healed)
            REQUIRE(content == made.sealed.at(name));
        REQUIRE(receiver.failures.empty());
        const Outlook& outlook = rebuilder.outlook();
        REQUIRE(receiver.healed.size() == outlook.from_recovery.size());
        REQUIRE(outlook.from_copies.empty());
        // Nothing whole is called damaged.
        for (const auto& damage : damages)
            REQUIRE_FALSE(made.is_whole(damage.name));

        healed_files += static_cast<int>(receiver.healed.size());
        beyond_files += static_cast<int>(outlook.beyond.size());
        if (!certain) {
            ++uncertain;
            continue;
        }
        REQUIRE(std::set<std::string>(outlook.beyond.begin(), outlook.beyond.end()) == beyond);
        for (const auto& [name, content] : made.sealed) {
            if (!made.is_whole(name))
                REQUIRE((receiver.healed.contains(name) || beyond.contains(name)));
        }
    }
    CAPTURE(healed_files, beyond_files, uncertain);
    CHECK(healed_files > static_cast<int>(bags / 3));
    CHECK(beyond_files > static_cast<int>(bags / 10));
}

TEST_CASE("what is told of the changes leads from the damaged bytes to the right ones") {
    for (unsigned seed = 10000; seed < 10000 + bags / 8; ++seed) {
        INFO("seed " << seed);
        DamageMachine machine(seed);
        Case made = make_case(machine);
        RecoverySet set(made.files, "bag");
        Rebuilder rebuilder(made.files, "bag", set, made.damages(set));
        KeepingReceiver receiver;
        rebuilder.run(receiver);
        for (const auto& [name, healed] : receiver.told) {
            const std::string& right = receiver.healed.at(name);
            std::string rebuilt = made.bag().contains(name) ? made.bag().at(name) : "";
            const std::size_t was = rebuilt.size();
            rebuilt.resize(std::max(was, right.size()));
            for (const auto& change : healed.changes) {
                if (change.look == Look::surplus) {
                    REQUIRE(change.offset + change.length == was);
                    continue;
                }
                if (change.bit) {
                    REQUIRE((rebuilt[*change.bit / 8] ^ right[*change.bit / 8]) ==
                            static_cast<char>(1 << *change.bit % 8));
                }
                rebuilt.replace(change.offset, change.length,
                                right.substr(change.offset, change.length));
            }
            rebuilt.resize(right.size());
            REQUIRE(rebuilt == right);
        }
    }
}

TEST_CASE("damaged recovery files are made again byte for byte") {
    for (unsigned seed = 20000; seed < 20200; ++seed) {
        INFO("seed " << seed);
        DamageMachine machine(seed);
        Case made = make_case(machine);
        RecoverySet set(made.files, "bag");
        MemoryFiles whole;
        whole.copies["bag"] = made.sealed;
        for (const auto& covered : set.windows()) {
            KeepingSink sink;
            flow::Sink* const outputs[] = {&sink};
            regenerate(whole, "bag", covered.window, outputs);
            const std::string name = file_name(covered.window.group, covered.window.number);
            REQUIRE(sink.kept.at(name) == made.recovery.at(name));
        }
    }
}

#include "glassine/recovery/recovery_set.h"

#include "glassine/recovery/locator.h"
#include "recovery/packet.h"
#include "recovery/small_bag.h"
#include "support/fault_file_system.h"
#include "support/temp_folder.h"

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::recovery;
using namespace glassine::test;

namespace {

const std::string file_one = "recovery/payload-0001.recovery";

struct Sealed {
    MemoryFiles files;
    Contents& bag = files.copies["bag"];
    explicit Sealed(std::uint64_t window_memory = 1u << 20) {
        for (int i = 0; i < 5; ++i)
            bag["data/" + std::to_string(i)] = noise(1500, i);
        Options options = small_blocks(64, 1000);
        options.window_memory = window_memory;
        bag.merge(recovery_for(bag, options));
    }
    std::string& recovery() { return bag[file_one]; }
    std::vector<std::string> told(bool inspect = true) {
        RecoverySet set(files, "bag");
        if (inspect) set.inspect_all();
        std::vector<std::string> sentences;
        for (const auto& finding : set.findings())
            sentences.push_back(finding.path + ": " + finding.detail);
        return sentences;
    }
};

using Sentences = std::vector<std::string>;

}  // namespace

TEST_CASE("a whole recovery file is read and nothing is said") {
    Sealed sealed;
    CHECK(sealed.told().empty());
    RecoverySet set(sealed.files, "bag");
    REQUIRE(set.windows().size() == 1);
    CHECK(set.percent() == 1000);
    CHECK(set.covered().size() == 5);
    CHECK(set.find("data/3")->size == 1500);
    CHECK(set.find("data/9") == nullptr);
    const auto checks = set.checks(0);
    for (std::uint32_t block = 0; block < set.windows()[0].window.geometry.blocks; ++block) {
        const auto& window = set.windows()[0].window;
        const std::string& content = sealed.bag.at(window.extent_of(block).name);
        CHECK(checks->known[block]);
        CHECK(checks->values[block] ==
              check_of(bytes_of(content).subspan(window.offset_of(block), window.bytes_of(block))));
    }
}

TEST_CASE("a bag without recovery data gives an empty set") {
    MemoryFiles files;
    files.copies["bag"]["data/a"] = "a";
    RecoverySet set(files, "bag");
    CHECK(set.empty());
    CHECK(set.findings().empty());
    CHECK(locate(files, "bag", set).empty());
}

TEST_CASE("damaged recovery files are told by what is left of them") {
    Sealed sealed;
    const std::string whole = sealed.recovery();
    const std::size_t middle = whole.size() / 2;
    sealed.recovery()[middle] = static_cast<char>(sealed.recovery()[middle] ^ 1);
    CHECK(sealed.told() ==
          Sentences{file_one + ": 1 of 12 repair blocks and 0 of 36 index packets are damaged"});
    CHECK(sealed.told(false).empty());
    sealed.recovery() = whole;
    sealed.recovery()[100] = '?';
    CHECK(sealed.told() ==
          Sentences{file_one + ": 0 of 12 repair blocks and 1 of 36 index packets are damaged"});
    CHECK(sealed.told(false) == Sentences{file_one + ": its index is damaged"});
    sealed.recovery() = noise(5000, 1);
    CHECK(sealed.told() == Sentences{file_one + ": nothing of this recovery file can be used"});
    sealed.recovery().clear();
    CHECK(sealed.told() == Sentences{file_one + ": nothing of this recovery file can be used"});
}

TEST_CASE("a recovery file cut at any length never tells anything wrong") {
    Sealed sealed;
    const std::string whole = sealed.recovery();
    for (std::size_t length = 0; length < whole.size(); length += 7) {
        sealed.recovery() = whole.substr(0, length);
        RecoverySet set(sealed.files, "bag");
        set.inspect_all();
        CHECK(set.findings().size() == 1);
        // Whatever is still known of the files is right.
        CHECK(locate(sealed.files, "bag", set).empty());
    }
}

TEST_CASE("lost recovery files of a group are noticed by the others") {
    Sealed sealed(64 * 4);
    RecoverySet set(sealed.files, "bag");
    REQUIRE(set.windows().size() == 3);
    sealed.bag.erase("recovery/payload-0002.recovery");
    CHECK(sealed.told() == Sentences{"recovery/payload-0002.recovery: the recovery file is lost"});
    RecoverySet without(sealed.files, "bag");
    CHECK(without.windows().size() == 2);
    CHECK(locate(sealed.files, "bag", without).empty());
}

TEST_CASE("a recovery file under another's name is not taken for it") {
    Sealed sealed(64 * 4);
    sealed.bag["recovery/payload-0002.recovery"] = sealed.bag["recovery/payload-0001.recovery"];
    CHECK(sealed.told() ==
          Sentences{"recovery/payload-0002.recovery: nothing of this recovery file can be used"});
}

TEST_CASE("the packets of an older sealing in a foreign sector do not win") {
    Sealed sealed;
    Sealed older;
    for (int i = 0; i < 5; ++i)
        older.bag["data/" + std::to_string(i)] = noise(1500, 100 + i);
    older.bag.erase(file_one);
    older.bag.merge(recovery_for(older.bag, small_blocks(64, 1000)));
    REQUIRE(older.recovery().size() == sealed.recovery().size());
    // The whole first index is the older one's.
    std::size_t index = 0;
    for (std::size_t i = 0; i < 18; ++i) {
        index = sealed.recovery().find("GlassRec", index + 1);
    }
    sealed.recovery().replace(0, index, older.recovery().substr(0, index));
    RecoverySet set(sealed.files, "bag");
    CHECK(locate(sealed.files, "bag", set).empty());
    set.inspect_all();
    CHECK(set.findings().size() == 1);
}

TEST_CASE("unreadable sectors of a recovery file cost their packets only") {
    Sealed sealed;
    sealed.files.unreadable["bag/" + file_one] = {1};
    RecoverySet set(sealed.files, "bag");
    REQUIRE(set.windows().size() == 1);
    CHECK(locate(sealed.files, "bag", set).empty());
}

TEST_CASE("faults of the file system end in findings or in an Error, never in a wrong answer") {
    TempFolder folder;
    Sealed sealed;
    for (const auto& [name, content] : sealed.bag)
        folder.write("bag/" + name, content);
    std::uint64_t n = 1;
    for (bool fired = true; fired && n < 1000; ++n) {
        FaultFileSystem faulty(io::posix_file_system());
        faulty.fail_at(n, Cause::unreadable);
        RecoverySet set(faulty, folder / "bag");
        set.inspect_all();
        try {
            const auto damages = locate(faulty, folder / "bag", set);
            if (!faulty.failed()) CHECK(damages.empty());
        } catch (const Error&) {
        }
        fired = faulty.failed();
    }
    CHECK(n > 10);
}

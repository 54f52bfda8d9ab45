#include "bag_builder.h"
#include "support/fault_file_system.h"

#include <atomic>
#include <chrono>
#include <thread>

#include <fmt/format.h>

using namespace glassine;
using namespace glassine::test;

namespace {

constexpr std::size_t megabyte = 1u << 20;

/// Enough files of a size that tells something, for a median of their rates.
std::filesystem::path large_bag(const TempFolder& folder) {
    BagBuilder bag = BagBuilder::of("1.0");
    for (unsigned i = 0; i < 20; ++i)
        bag.files[fmt::format("data/film-{:02}.mov", i)] = noise(megabyte, i);
    bag.seal();
    return bag.write(folder);
}

bagit::BagReport read_through(io::FileSystem& files, const std::filesystem::path& bag) {
    return bagit::check_folder(files, bag, {});
}

}  // namespace

TEST_CASE("a file that reads far slower than the others is told with both rates") {
    const TempFolder folder;
    const auto bag = large_bag(folder);
    FaultFileSystem files(io::posix_file_system());
    files.before_read("film-07.mov", [](std::uint64_t offset) {
        if (offset == 0) std::this_thread::sleep_for(std::chrono::seconds(2));
    });
    const auto report = read_through(files, bag);
    INFO(described(report));
    CHECK(report.valid == true);
    const Finding* slow = find(report, FindingKind::slow_read);
    REQUIRE(slow != nullptr);
    CHECK(slow->path == "data/film-07.mov");
    CHECK(slow->severity == Severity::warning);
    CHECK(slow->detail.find("a second, the others at ") != std::string::npos);
    CHECK(find(read_through(io::posix_file_system(), bag), FindingKind::slow_read) == nullptr);
}

TEST_CASE("a file that gives its bytes only when asked again is told with tries and rate") {
    const TempFolder folder;
    const auto bag = large_bag(folder);
    FaultFileSystem files(io::posix_file_system());
    std::atomic<int> failures{0};
    files.before_read("film-03.mov", [&](std::uint64_t offset) {
        // The first block fails as a whole, then its first sector once more.
        if (offset == 0 && failures < 2) {
            ++failures;
            throw Error(Cause::unreadable, "read", "film-03.mov", "input/output error");
        }
    });
    const auto report = read_through(files, bag);
    INFO(described(report));
    CHECK(report.valid == true);
    const Finding* slow = find(report, FindingKind::slow_read);
    REQUIRE(slow != nullptr);
    CHECK(slow->path == "data/film-03.mov");
    CHECK(slow->detail.find("only after 2 further tries, at ") != std::string::npos);
    CHECK(slow->detail.ends_with(" a second"));
}

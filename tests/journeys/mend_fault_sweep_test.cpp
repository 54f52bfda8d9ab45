#include "support/effort.h"
#include "support/fault_file_system.h"
#include "support/forgetful_file_system.h"
#include "support/mending.h"

#include <algorithm>

using namespace glassine;
using namespace glassine::test;
namespace fs = std::filesystem;

/// Whatever fails while a bag is mended, no file gets worse, nothing is lost, and the next run
/// finishes the work.
namespace {

/// Every so manieth operation fails.
constexpr std::uint64_t thinning = sanitized ? 7 : 1;

void flip(std::string& content, std::size_t at) {
    content.at(at) = static_cast<char>(content[at] ^ 4);
}

/// Something of everything: payload, a tag file, a manifest, recovery data, lost and cut files.
Tree hurt(const Tree& sealed) {
    Tree tree = sealed;
    flip(tree.at("data/originals/GLS_0001.DNG"), 700);
    tree.erase("data/web/GLS_0001.jpg");
    flip(tree.at("manifest-sha512.txt"), 40);
    tree.at("bag-info.txt").resize(10);
    flip(tree.at("recovery/payload-0001.recovery"), 5000);
    tree.erase("tagmanifest-sha512.txt");
    return tree;
}

/// Damage that does not touch the manifests' proofs: everything can be healed.
Tree hurt_but_healable(const Tree& sealed) {
    Tree tree = hurt(sealed);
    tree["tagmanifest-sha512.txt"] = sealed.at("tagmanifest-sha512.txt");
    return tree;
}

struct Sweep {
    Mending mending{{.kept = 1, .rejected = 1}, 20};
    Tree before = hurt_but_healable(mending.sealed());

    void start() const {
        mending.clear();
        mending.put("bag", before);
    }

    std::uint64_t operations() const {
        start();
        FaultFileSystem files(io::posix_file_system());
        REQUIRE(mending.mend(files).ending == report::Ending::good);
        REQUIRE(tree_of(mending.bag()) == mending.sealed());
        return files.operations();
    }

    void run(io::FileSystem& files, const FaultFileSystem& faults) const {
        try {
            const auto result = mending.mend(files);
            if (result.ending == report::Ending::good)
                REQUIRE(tree_of(mending.bag()) == mending.sealed());
        } catch (const Error& error) {
            REQUIRE(faults.failed());
            REQUIRE_FALSE(error.why().empty());
        }
    }

    /// Every file is as it was, or as it was sealed.
    void check_no_worse() const {
        const Tree now = tree_of(mending.bag());
        for (const std::string& name : differences(before, now)) {
            INFO(name);
            REQUIRE(now.contains(name));
            REQUIRE(mending.sealed().contains(name));
            REQUIRE(now.at(name) == mending.sealed().at(name));
        }
    }

    void check_second_run() const {
        const auto result = mending.mend();
        INFO(listed(result.findings));
        REQUIRE(result.ending == report::Ending::good);
        REQUIRE(tree_of(mending.bag()) == mending.sealed());
        for (const std::string& name : mending.beside())
            REQUIRE_FALSE(name.starts_with("."));
    }
};

/// About `runs` operations, spread evenly over all.
template <typename Prepare>
void sweep(const Sweep& bench, std::uint64_t runs, Prepare prepare) {
    const std::uint64_t operations = bench.operations();
    REQUIRE(operations > 100);
    const std::uint64_t step = std::max<std::uint64_t>(1, operations * thinning / runs);
    for (std::uint64_t n = 1; n <= operations + 5; n += step) {
        INFO("operation " << n << " of " << operations);
        bench.start();
        FaultFileSystem files(io::posix_file_system());
        prepare(files, n);
        bench.run(files, files);
        bench.check_no_worse();
        bench.check_second_run();
    }
}

}  // namespace

TEST_CASE("whichever operation of mend fails, no file is worse and the next run heals all") {
    const Sweep bench;
    sweep(bench, 250, [](FaultFileSystem& files, std::uint64_t n) {
        files.fail_at(n, n % 2 == 0 ? Cause::no_space : Cause::unreadable);
    });
}

TEST_CASE("a file that the medium does not give is healed, and kept as it is") {
    const Mending mending({.kept = 1, .rejected = 1, .film_bytes = 300'000}, 20);
    const std::string film = "data/originals/GLS_FILM.mov";
    const std::uint64_t sector = 7;
    std::uint64_t operations = 1000;
    for (std::uint64_t n = 0; n < operations; n += n == 0 ? 1 : 12 * thinning) {
        INFO("operation " << n << " of " << operations);
        mending.clear();
        mending.put();
        FaultFileSystem files(io::posix_file_system());
        files.damage("bag/" + film, sector);
        files.fail_from(n, Cause::permission);
        try {
            const auto result = mending.mend(files);
            if (n == 0) {
                REQUIRE(result.ending == report::Ending::good);
                REQUIRE(healed_paths(result) == std::set{film});
                REQUIRE(tree_of(result.quarantine).at(film + ".damaged") ==
                        mending.sealed().at(film));
                operations = files.operations();
            }
        } catch (const Error& error) {
            REQUIRE(files.failed());
        }
        // Cut off while the two changed places, the next run finds the healed one.
        REQUIRE(mending.mend().ending == report::Ending::good);
        REQUIRE(tree_of(mending.bag()) == mending.sealed());
    }
}

TEST_CASE("whenever the drive is pulled out of mend, no file is worse and the next run heals all") {
    const Sweep bench;
    sweep(bench, 150, [](FaultFileSystem& files, std::uint64_t n) { files.fail_from(n); });
}

TEST_CASE("whenever the power fails during mend, no file is worse and the next run heals all") {
    const Sweep bench;
    const std::uint64_t operations = bench.operations();
    const std::uint64_t step = std::max<std::uint64_t>(1, operations * thinning / 150);
    for (std::uint64_t n = 1; n <= operations; n += step) {
        INFO("operation " << n << " of " << operations);
        bench.start();
        ForgetfulFileSystem forgetful(io::posix_file_system());
        FaultFileSystem files(forgetful);
        files.fail_from(n);
        bench.run(files, files);
        const auto loss =
            n % 3 == 0 ? ForgetfulFileSystem::Loss::all : ForgetfulFileSystem::Loss::some;
        forgetful.fail_power(bench.mending.place(), loss, n);
        bench.check_no_worse();
        bench.check_second_run();
    }
}

#include "support/effort.h"
#include "support/fault_file_system.h"
#include "support/forgetful_file_system.h"
#include "support/sealing.h"

using namespace glassine;
using namespace glassine::test;

namespace {

constexpr JobSize tiny{.kept = 1, .rejected = 1};

/// Every so manieth operation fails.
constexpr std::uint64_t thinning = sanitized ? 7 : 1;

/// One run in which a fault is set; any end is allowed that the result or an Error tells.
void run_with_fault(Sealing& sealing, FaultFileSystem& files) {
    try {
        const auto result = sealing.closeout(files);
        INFO(listed(result.findings));
        // A fault that was met is told, or did not matter: every copy is there all the same.
        if (result.ending == report::Ending::good)
            for (const report::Copy& copy : result.copies)
                REQUIRE(copy.verified);
        for (const report::Copy& copy : result.copies)
            if (copy.verified) REQUIRE(std::filesystem::exists(copy.path));
    } catch (const Error& error) {
        REQUIRE(files.failed());
        REQUIRE_FALSE(error.why().empty());
    }
}

std::uint64_t operations_of_a_run(Sealing& sealing) {
    FaultFileSystem files(io::posix_file_system());
    REQUIRE(sealing.closeout(files).ending == report::Ending::good);
    sealing.start_anew();
    return files.operations();
}

/// Runs once for every n, with what `prepare` does to the n-th operation.
template <typename Prepare>
void sweep(Sealing& sealing, std::uint64_t step, Prepare prepare) {
    const std::uint64_t operations = operations_of_a_run(sealing);
    REQUIRE(operations > 100);
    // Threads meet in another order each time: a few more than were counted.
    for (std::uint64_t n = 1; n <= operations + 10; n += step * thinning) {
        INFO("operation " << n << " of " << operations);
        FaultFileSystem files(io::posix_file_system());
        prepare(files, n);
        run_with_fault(sealing, files);
        sealing.check_nothing_broken();
        sealing.check_second_run();
        sealing.start_anew();
    }
}

}  // namespace

TEST_CASE("whichever operation fails, no half bag stands and the next run succeeds") {
    Sealing sealing(tiny);
    sweep(sealing, 1, [](FaultFileSystem& files, std::uint64_t n) {
        files.fail_at(n, n % 2 == 0 ? Cause::no_space : Cause::unreadable);
    });
}

TEST_CASE("whenever everything begins to fail, no half bag stands and the next run succeeds") {
    Sealing sealing(tiny);
    sweep(sealing, 3, [](FaultFileSystem& files, std::uint64_t n) { files.fail_from(n); });
}

TEST_CASE("whenever a drive is pulled out, the other gets its copy") {
    Sealing sealing(tiny);
    const std::uint64_t operations = operations_of_a_run(sealing);
    int finished_alone = 0;
    for (std::uint64_t n = 1; n <= operations; n += 4 * thinning) {
        INFO("operation " << n << " of " << operations);
        FaultFileSystem files(io::posix_file_system());
        files.fail_below(sealing.drive(1).string(), n);
        try {
            const auto result = sealing.closeout(files);
            if (files.failed() && !result.copies[0].verified) {
                REQUIRE(result.ending == report::Ending::failed);
                REQUIRE_FALSE(result.copies[0].failure.empty());
                REQUIRE(result.copies[1].verified);
                REQUIRE(result.seal.size() == 128);
                REQUIRE(sealing.audit(sealing.drive(2)).ending == report::Ending::good);
                ++finished_alone;
            }
        } catch (const Error& error) {
            // Before the first byte a place that cannot be looked at stops the whole.
            REQUIRE(std::filesystem::is_empty(sealing.drive(2)));
        }
        sealing.check_nothing_broken();
        sealing.check_second_run();
        sealing.start_anew();
    }
    CHECK(finished_alone > (thinning > 1 ? 2 : 10));
}

TEST_CASE("what was never synced may be lost: published bags are whole all the same") {
    Sealing sealing(tiny);
    using Loss = ForgetfulFileSystem::Loss;
    for (const Loss loss : {Loss::all, Loss::some}) {
        ForgetfulFileSystem files(io::posix_file_system());
        REQUIRE(sealing.closeout(files).ending == report::Ending::good);
        files.fail_power(sealing.root(), loss, 7);
        for (const int number : {1, 2}) {
            REQUIRE(std::filesystem::exists(sealing.bag(number)));
            const auto audit = sealing.audit(sealing.bag(number));
            INFO(listed(audit.bags[0].report.findings));
            REQUIRE(audit.ending == report::Ending::good);
        }
        sealing.start_anew();
    }
}

TEST_CASE("whenever the power fails, no half bag stands and the next run succeeds") {
    Sealing sealing(tiny);
    const std::uint64_t operations = operations_of_a_run(sealing);
    for (std::uint64_t n = 1; n <= operations; n += 3 * thinning) {
        INFO("operation " << n << " of " << operations);
        ForgetfulFileSystem forgetful(io::posix_file_system());
        FaultFileSystem files(forgetful);
        files.fail_from(n);
        run_with_fault(sealing, files);
        const auto loss =
            n % 3 == 0 ? ForgetfulFileSystem::Loss::all : ForgetfulFileSystem::Loss::some;
        forgetful.fail_power(sealing.root(), loss, n);
        sealing.check_nothing_broken();
        sealing.check_second_run();
        sealing.start_anew();
    }
}

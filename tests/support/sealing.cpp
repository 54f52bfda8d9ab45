#include "support/sealing.h"

namespace glassine::test {
namespace fs = std::filesystem;

namespace {

/// In memory where there is such a place: hundreds of runs with all their syncs stay quick.
fs::path quick_place() {
    const fs::path memory = "/dev/shm";
    std::error_code none;
    return fs::is_directory(memory, none) ? memory : fs::path();
}

}  // namespace

Sealing::Sealing(const JobSize& size) : folder_(quick_place()) {
    write_small_job(job(), size);
    fingerprint_ = tree_fingerprint(job());
    start_anew();
}

void Sealing::start_anew() const {
    for (const int number : {1, 2}) {
        fs::remove_all(drive(number));
        fs::create_directories(drive(number));
    }
}

journeys::CloseoutRequest Sealing::request(const std::vector<int>& drives) const {
    journeys::CloseoutRequest request;
    request.job = job();
    for (const int number : drives)
        request.destinations.push_back(drive(number).string());
    request.clients = {"Maren Holt"};
    request.date = *parse_date(small_job_date);
    request.about = "harbour gala";
    return request;
}

journeys::Context Sealing::context(io::FileSystem& files) {
    flow::Resources resources;
    resources.block_size = 64u << 10;
    resources.blocks = 24;
    resources.threads = 2;
    return {files, monitor_, {}, stop.get_token(), "keeper", resources};
}

report::CloseoutResult Sealing::closeout(io::FileSystem& files,
                                         const journeys::CloseoutRequest& request) {
    return journeys::closeout(context(files), request);
}

report::AuditResult Sealing::audit(const fs::path& path) const {
    journeys::SilentMonitor silent;
    const journeys::Context context{io::posix_file_system(), silent, {}, {}, "keeper", {}};
    return journeys::audit(context, {{path}, false});
}

void Sealing::check_nothing_broken() const {
    REQUIRE(tree_fingerprint(job()) == fingerprint_);
    for (const int number : {1, 2}) {
        for (const auto& entry : fs::directory_iterator(drive(number))) {
            const std::string found = entry.path().filename().string();
            INFO(entry.path());
            if (found == std::string(".") + name + ".glassine-staging") continue;
            REQUIRE(found == name);
            const bagit::BagReport report =
                bagit::check_folder(io::posix_file_system(), entry.path(), {});
            INFO(listed(report.findings));
            REQUIRE(report.valid == true);
        }
    }
}

void Sealing::check_second_run() {
    std::vector<int> missing;
    for (const int number : {1, 2})
        if (!fs::exists(bag(number))) missing.push_back(number);
    try {
        const auto result = closeout();
        INFO(listed(result.findings));
        REQUIRE(result.ending == report::Ending::good);
    } catch (const Error& error) {
        // A copy that stands already may be refused; the drive without one gets its own.
        INFO(error.what());
        REQUIRE(error.cause() == Cause::exists);
        REQUIRE(missing.size() < 2);
        if (!missing.empty())
            REQUIRE(closeout(io::posix_file_system(), missing).ending == report::Ending::good);
    }
    check_nothing_broken();
    for (const int number : {1, 2}) {
        REQUIRE(fs::exists(bag(number)));
        REQUIRE(std::distance(fs::directory_iterator(drive(number)), {}) == 1);
    }
}

std::string listed(const std::vector<Finding>& findings) {
    std::string out;
    for (const Finding& f : findings)
        out += std::string(word(f.severity)) + " " + std::string(word(f.kind)) + " [" + f.path +
               "] " + f.detail + "\n";
    return out;
}

const Finding* find(const std::vector<Finding>& findings, FindingKind kind, std::string_view path) {
    for (const Finding& f : findings)
        if (f.kind == kind && (path.empty() || f.path == path)) return &f;
    return nullptr;
}

}  // namespace glassine::test

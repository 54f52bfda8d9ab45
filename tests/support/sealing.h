#pragma once

#include "glassine/bagit/check.h"
#include "glassine/journeys/audit.h"
#include "glassine/journeys/closeout.h"
#include "support/small_job.h"
#include "support/temp_folder.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

namespace glassine::test {

/// A small job, two folders that stand for drives, and the journeys run on them with a file system
/// of the test's choosing.
class Sealing {
  public:
    explicit Sealing(const JobSize& size = {});

    std::filesystem::path job() const { return folder_ / "job"; }
    std::filesystem::path drive(int number) const {
        return folder_ / ("drive-" + std::to_string(number));
    }
    std::filesystem::path bag(int number) const { return drive(number) / name; }
    const std::filesystem::path& root() const { return folder_.path(); }
    /// The job as it was made.
    const std::string& fingerprint() const { return fingerprint_; }

    journeys::CloseoutRequest request(const std::vector<int>& drives = {1, 2}) const;
    /// Throws what the journey throws.
    report::CloseoutResult closeout(io::FileSystem& files,
                                    const journeys::CloseoutRequest& request);
    report::CloseoutResult closeout(io::FileSystem& files,
                                    const std::vector<int>& drives = {1, 2}) {
        return closeout(files, request(drives));
    }
    report::CloseoutResult closeout() { return closeout(io::posix_file_system()); }
    report::AuditResult audit(const std::filesystem::path& path) const;
    /// Empties both drives.
    void start_anew() const;

    std::stop_source stop;

    static constexpr const char* name = "2025-06-14_maren-holt_harbour-gala";

    /// What must hold however a close-out ended: the source as it was, and under a bag's name only
    /// what is valid. Fails the test otherwise.
    void check_nothing_broken() const;
    /// A second run without faults ends with a valid bag on both drives and nothing else there.
    void check_second_run();

  private:
    journeys::Context context(io::FileSystem& files);

    TempFolder folder_;
    std::string fingerprint_;
    journeys::SilentMonitor monitor_;
};

/// "damage payload-altered [path] detail", a line for each.
std::string listed(const std::vector<Finding>& findings);

const Finding* find(const std::vector<Finding>& findings, FindingKind kind,
                    std::string_view path = {});

}  // namespace glassine::test

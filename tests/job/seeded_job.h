#pragma once

#include "glassine/digest/digest.h"
#include "glassine/job/accounting.h"

#include <chrono>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::test {

/// A camera body that does not exist.
struct Camera {
    std::string make;
    std::string model;
    std::string serial;
    std::string prefix;
    int number = 1;  ///< of its next frame
};

/// Jobs in memory: files and what reading them would tell. Faults are seeded by changing single
/// entries.
class SeededJob {
  public:
    std::vector<job::JobFile> files;
    std::vector<job::Observed> observed;
    job::Question question;

    /// Adds a file of a section; `below` is its path in the section's folder.
    std::size_t add(job::Section section, const std::string& below,
                    const photo::Picture& picture = {});
    std::size_t find(std::string_view shown) const;
    job::Observed& at(std::string_view shown) { return observed[find(shown)]; }
    void remove(std::string_view shown);
    void rename(std::string_view shown, const std::string& below);
    job::Accounting account() const;

    /// A raw, whole, as the camera would tell it.
    static photo::Picture shot(const Camera& camera,
                               std::chrono::local_time<std::chrono::milliseconds> moment);
    /// What an export of it would tell: a JPEG in sRGB with profile and rights.
    static photo::Picture exported(const photo::Picture& shot, const std::string& original_name);
};

/// "QX2_0042.DNG" for the camera's next number, which goes on after 9999 with 1.
std::string next_name(Camera& camera);

/// Two bodies side by side over three spells of a day, 30 frames each; every fourth rejected with
/// its JPEG, all others printed and on the web under names of their own. Nothing is wrong with it.
SeededJob clean_job();
/// When the clean job's k-th frame of a body was taken.
std::chrono::local_time<std::chrono::milliseconds> clean_moment(int body, int k);

}  // namespace glassine::test

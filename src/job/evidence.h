#pragma once

#include "glassine/job/accounting.h"
#include "glassine/photo/dcf.h"

#include <cstdint>
#include <optional>
#include <string>

/// What one file tells of the frame that it shows.
namespace glassine::job {

struct Evidence {
    std::string model;                         ///< make and model, folded; empty: not known
    std::string serial;                        ///< folded; empty: not known
    std::optional<std::int64_t> milliseconds;  ///< of capture, by the camera's clock
    bool has_subseconds = false;
    std::string stem;           ///< of the file's own name, folded
    std::string original_stem;  ///< of the name that metadata kept, folded; may be empty
    std::optional<photo::dcf::FileName>
        camera_name;  ///< of the original name, else of the file's own

    std::optional<std::int64_t> second() const;
    /// The name that counts: the camera's where metadata kept it.
    const std::string& best_stem() const { return original_stem.empty() ? stem : original_stem; }
};

Evidence evidence_of(const JobFile& file, const photo::Picture& picture);

enum class Comparison { unknown, same, differ };

/// By serial, else by make and model.
Comparison compare_bodies(const Evidence& a, const Evidence& b);
/// To the millisecond where both have sub-seconds, else to the second.
Comparison compare_times(const Evidence& a, const Evidence& b);
/// Same stem; or two DCF names with the same free characters and different numbers.
Comparison compare_names(const Evidence& a, const Evidence& b);

/// Neither body nor time forbids that both show one frame.
bool may_be_one_frame(const Evidence& a, const Evidence& b);

}  // namespace glassine::job

#pragma once

#include "glassine/base/time.h"
#include "glassine/report/results.h"

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

/// The result of an audit as a page for people: one file that needs no script, no network and no
/// Glassine, on a screen or on paper. All text from bags is escaped.
namespace glassine::report {

/// A picture that is not what was sealed, and what of it is lost.
struct DamagedPicture {
    std::string path;       ///< in the bag
    std::string thumbnail;  ///< a JPEG as it was sealed; empty: there is none
    /// The lost part of the picture as it is looked at, in shares of its width and height.
    /// Nothing: it cannot be told.
    struct Part {
        double left = 0;
        double top = 0;
        double width = 1;
        double height = 1;
        bool operator==(const Part&) const = default;
    };
    std::optional<Part> lost;
    std::string says;  ///< one sentence without a full stop
};

/// How fast a bag was read at one place of the reading.
struct RateSample {
    std::uint64_t bytes = 0;  ///< read so far
    double rate = 0;          ///< bytes a second since the sample before
};

/// An earlier check of a bag, as the register has it.
struct EarlierCheck {
    Timestamp when;
    bool whole = false;
    double rate = 0;  ///< bytes a second; 0: not known
};

/// What an audit noticed beside its findings. Everything may be empty.
struct BagNotes {
    std::vector<DamagedPicture> pictures;
    std::vector<RateSample> rates;
    std::vector<EarlierCheck> earlier;  ///< oldest first, without this one
};

struct DriveNotes {
    std::string path;                 ///< as it was named
    std::string label;                ///< on the shelf; empty: none
    std::string device;               ///< maker's model and serial number; empty: not known
    std::vector<std::size_t> bags;    ///< in `AuditResult::bags`, as they were read
    std::vector<std::string> left{};  ///< those of `AuditResult::left` that lie on it
};

struct AuditNotes {
    std::string studio;
    std::string person;
    std::vector<DriveNotes> drives;
    std::vector<BagNotes> bags;  ///< for each of `AuditResult::bags`
};

std::string audit_page(const AuditResult& result, const AuditNotes& notes);

}  // namespace glassine::report

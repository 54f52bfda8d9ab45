#pragma once

#include "glassine/base/finding.h"
#include "glassine/base/time.h"
#include "glassine/digest/digest.h"
#include "glassine/job/layout.h"
#include "glassine/job/proxies.h"
#include "glassine/job/studio.h"
#include "glassine/photo/picture.h"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

/// Frame accounting: every frame that was shot is either kept or rejected, and known by what stands
/// for it.
///
/// docs/frame-accounting.md tells the rules in plain words.
namespace glassine::job {

/// What one read of a file told. Files that are no pictures have a default Picture.
struct Observed {
    photo::Picture picture;
    digest::Value sha512;     ///< empty when the file could not be read whole
    bool proxy_made = false;  ///< of a rejected raw: a JPEG that can stand for it is at hand
    std::string proxy_why;    ///< why none could be made, although it was tried
};

/// A camera body, as its pictures name it.
struct Body {
    std::string make;
    std::string model;
    std::string serial;
    /// "Make Model, serial 123"; "unknown camera" when nothing is known.
    std::string label() const;
    bool operator==(const Body&) const = default;
};

enum class FrameState {
    kept,            ///< an original is in the originals
    rejected,        ///< a raw or its JPEG is in the rejects, none in the originals
    delivered_only,  ///< only delivered pictures are known
};
/// "kept", "rejected", "delivered": as frames.csv has it.
std::string_view word(FrameState state);

/// One press of the shutter. The numbers are indices of the job's files.
struct Frame {
    std::string name;  ///< as the camera named it where that is known, else the stem of its file
    std::size_t body = 0;  ///< index into `Accounting::bodies`
    std::optional<photo::CaptureTime> captured;
    std::optional<int> number;  ///< DCF file number, 1 to 9999
    FrameState state = FrameState::delivered_only;
    bool broken = false;  ///< one of its files is a picture that does not decode to its end

    std::vector<std::size_t> originals;  ///< raws and camera JPEGs among the originals
    std::vector<std::size_t> sidecars;
    std::vector<std::size_t> print;
    std::vector<std::size_t> web;
    std::vector<std::size_t> rejected;  ///< raws and pictures other than JPEG among the rejects
    std::vector<std::size_t> proxies;   ///< JPEGs among the rejects
};

/// Numbers missing in a body's counting, between two frames that are there.
struct Gap {
    std::size_t after = 0;   ///< index of the frame before the gap
    std::size_t before = 0;  ///< and of the one behind it
    int missing = 0;
    std::string first;  ///< "ABCD0005": the first and the last name that are missing
    std::string last;
};

/// Frames whose numbers follow no camera's counting, so that nobody can tell what is missing
/// between them: several bodies without a serial number, or names that people gave.
struct Uncounted {
    std::size_t first = 0;   ///< index of the earliest of the frames
    std::size_t frames = 0;  ///< how many
    std::size_t gaps = 0;    ///< that there would be, were it a counting
};

/// One line of the table that a photographer reads in ten seconds.
struct BodySummary {
    std::size_t body = 0;  ///< index into `Accounting::bodies`; of no meaning in the total
    std::string label;
    std::uint64_t shot = 0;  ///< kept and rejected
    std::uint64_t kept = 0;
    std::uint64_t rejected = 0;
    std::uint64_t missing = 0;  ///< numbers
    bool counted = true;        ///< else some frames are `Uncounted` and left out of `missing`
    std::uint64_t broken = 0;   ///< files
    std::optional<photo::CaptureTime> first;
    std::optional<photo::CaptureTime> last;
};

struct Summary {
    std::vector<BodySummary> bodies;  ///< those that shot something, most frames first
    BodySummary total;                ///< broken: all broken files, also those of no known frame
    std::uint64_t delivered = 0;      ///< frames with a print or web picture
};

struct Accounting {
    std::vector<Body> bodies;
    std::vector<Frame> frames;  ///< by capture time, those without one last, then by name
    std::vector<Gap> gaps;
    std::vector<Uncounted> uncounted;
    /// Of the proxies to make, those that were made: `Observed::proxy_made`.
    std::vector<ProxyToMake> made_proxies;
    std::vector<Finding> findings;
    Summary summary;
};

struct Question {
    std::optional<Date> date;  ///< what the job is said to have been shot on
    Limits limits;
};

/// Accounts for every frame. `observed[i]` belongs to `files[i]`. Pure: the same input gives the
/// same answer.
///
/// A frame is known by its camera body (serial number, else make and model), its capture time with
/// sub-seconds and its DCF file number; the file stem is the fallback. Names that metadata keep
/// of renamed files count as the camera's own.
///
/// Finds `image-broken`, `image-not-checkable`, `delivered-without-original`,
/// `original-not-delivered`, `reject-without-proxy`, `frame-gap`, `duplicate-name`,
/// `duplicate-content`, `sidecar-orphan`, `clock-mismatch`, `date-mismatch`, and for delivered
/// pictures what `judge_delivery` finds.
Accounting account(std::span<const JobFile> files, std::span<const Observed> observed,
                   const Question& question);

}  // namespace glassine::job

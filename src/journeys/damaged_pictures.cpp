#include "journeys/damaged_pictures.h"

#include "glassine/base/text.h"
#include "glassine/io/files.h"
#include "glassine/job/frames_csv.h"
#include "glassine/photo/examine.h"

#include <algorithm>
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <span>
#include <string>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

/// No camera writes larger JPEGs, and few larger raws.
constexpr std::uint64_t largest_jpeg = 256u << 20;

constexpr std::size_t most_pictures = 48;
constexpr std::uint64_t largest_thumbnail = 1u << 20;

/// The line that a decoder has come to where the damage begins. It often goes on and notices
/// nothing for long, although what it makes of the bytes from there on is no picture any more.
std::optional<std::uint32_t> line_reached(const std::string& bytes, const Finding& finding) {
    if (!finding.offset || *finding.offset == 0 || *finding.offset >= bytes.size())
        return std::nullopt;
    const auto whole_part = std::as_bytes(std::span(bytes)).first(*finding.offset);
    return photo::examine(whole_part, finding.path).picture.lost_from_line;
}

std::string loss(const photo::Picture& picture, std::optional<std::uint32_t> reached) {
    if (picture.verdict == photo::Verdict::whole && !reached)
        return "the picture still decodes, but what it shows may have changed";
    const std::uint32_t line =
        std::min(reached.value_or(UINT32_MAX), picture.lost_from_line.value_or(UINT32_MAX));
    if (line == UINT32_MAX || picture.height == 0) return "the picture does not decode any more";
    const std::string where =
        fmt::format("line {} of {} on", text::grouped(line), text::grouped(picture.height));
    if (picture.verdict == photo::Verdict::whole)
        return "the picture still decodes, but may have changed from " + where;
    return "the picture is lost from " + where;
}

struct Look {
    photo::Picture picture;
    std::optional<std::uint32_t> reached;
};

Look look(io::FileSystem& files, const io::Path& bag, const Finding& finding) {
    const std::string bytes = io::read_small_file(files, bag / finding.path, largest_jpeg);
    return {photo::examine(std::as_bytes(std::span(bytes)), finding.path).picture,
            line_reached(bytes, finding)};
}

bool is_damaged_picture(const Finding& finding) {
    using enum FindingKind;
    const photo::Kind kind = photo::kind_of_name(finding.path);
    return (finding.kind == payload_altered || finding.kind == payload_missing ||
            finding.kind == unreadable) &&
           kind != photo::Kind::xmp && kind != photo::Kind::other;
}

/// The sealed small pictures of a bag that Glassine made, by the paths of the files they stand for.
class Thumbnails {
  public:
    Thumbnails(io::FileSystem& files, const io::Path& bag, const bagit::BagReport& report)
        : files_(files), bag_(bag) {
        for (const Finding& f : report.findings)
            if (f.severity == Severity::damage) damaged_.insert(f.path);
        try {
            read_index();
        } catch (const Error&) {
            // A bag by somebody else, or an index that is damaged itself (which is a finding): the
            // page then says that there are no small pictures.
            of_.clear();
        }
    }

    std::string of(const std::string& path) const {
        const auto at = of_.find(path);
        if (at == of_.end() || damaged_.contains(at->second)) return "";
        try {
            return io::read_small_file(files_, bag_ / at->second, largest_thumbnail);
        } catch (const Error&) {
            return "";  // it vanished since the check
        }
    }

  private:
    void read_index() {
        const std::string index(job::frames_csv_file);
        if (damaged_.contains(index) || !files_.find(bag_ / index)) return;
        const std::string csv = io::read_small_file(files_, bag_ / index);
        for (const job::FrameRow& row : job::parse_frames_csv(csv, index)) {
            // Only what stands where Glassine puts it: a path of a stranger's bag may lead
            // anywhere.
            if (!row.thumbnail.starts_with("photo-index/thumbnails/") ||
                row.thumbnail.find("..") != std::string::npos)
                continue;
            for (const auto* paths : {&row.originals, &row.print, &row.web, &row.proxies})
                for (const std::string& path : *paths)
                    of_[path] = row.thumbnail;
        }
    }

    io::FileSystem& files_;
    const io::Path& bag_;
    std::set<std::string> damaged_;
    std::map<std::string, std::string> of_;
};

report::DamagedPicture describe(io::FileSystem& files, const io::Path& bag,
                                const Finding& finding) {
    report::DamagedPicture out;
    out.path = finding.path;
    if (finding.kind == FindingKind::payload_missing) {
        out.lost = report::DamagedPicture::Part{};
        out.says = "the file is lost";
        return out;
    }
    try {
        Look seen = look(files, bag, finding);
        out.says = loss(seen.picture, seen.reached);
        if (seen.reached) {
            seen.picture.verdict = photo::Verdict::broken;
            seen.picture.lost_from_line =
                std::min(*seen.reached, seen.picture.lost_from_line.value_or(UINT32_MAX));
        }
        out.lost = lost_part(seen.picture);
    } catch (const Error&) {
        out.says = "the file cannot be read";
    }
    return out;
}

}  // namespace

void tell_picture_loss(io::FileSystem& files, const io::Path& bag, bagit::BagReport& report) {
    for (Finding& finding : report.findings) {
        if (finding.kind != FindingKind::payload_altered) continue;
        if (photo::kind_of_name(finding.path) != photo::Kind::jpeg) continue;
        try {
            const Look seen = look(files, bag, finding);
            finding.detail += "; " + loss(seen.picture, seen.reached);
        } catch (const Error&) {
            // It cannot be read: the finding says so already.
            continue;
        }
    }
}

std::vector<report::DamagedPicture> damaged_pictures(io::FileSystem& files, const io::Path& bag,
                                                     const bagit::BagReport& report) {
    std::vector<report::DamagedPicture> out;
    std::optional<Thumbnails> thumbnails;
    std::set<std::string> seen;
    for (const Finding& finding : report.findings) {
        if (out.size() == most_pictures) break;
        if (!is_damaged_picture(finding) || !seen.insert(finding.path).second) continue;
        if (!thumbnails) thumbnails.emplace(files, bag, report);
        out.push_back(describe(files, bag, finding));
        out.back().thumbnail = thumbnails->of(finding.path);
    }
    return out;
}

std::optional<report::DamagedPicture::Part> lost_part(const photo::Picture& picture) {
    if (picture.verdict != photo::Verdict::broken || !picture.lost_from_line || picture.height == 0)
        return std::nullopt;
    const double kept =
        std::min(1.0, static_cast<double>(*picture.lost_from_line) / picture.height);
    // Exif 2.32, tag Orientation: where the stored picture's first row is when it is looked at.
    switch (picture.orientation) {
        case 3:
        case 4:  // at the bottom
            return {{0, 0, 1, 1 - kept}};
        case 5:
        case 8:  // on the left
            return {{kept, 0, 1 - kept, 1}};
        case 6:
        case 7:  // on the right
            return {{0, 0, 1 - kept, 1}};
        default:  // at the top
            return {{0, kept, 1, 1 - kept}};
    }
}

}  // namespace glassine::journeys

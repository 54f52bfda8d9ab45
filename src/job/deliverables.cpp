#include "glassine/job/deliverables.h"

#include <algorithm>
#include <string>
#include <utility>

#include <fmt/format.h>

namespace glassine::job {
namespace {

std::string pixels(std::uint64_t width, std::uint64_t height) {
    return fmt::format("{} × {} pixels", width, height);
}

class Judge {
  public:
    Judge(const JobFile& file, const photo::Picture& picture, const Limits& limits)
        : file_(file), picture_(picture), limits_(limits) {}

    std::vector<Finding> web() {
        if (picture_.has_location)
            report(FindingKind::location_in_web_image, "tells the place where it was taken");
        if (picture_.color_space != photo::ColorSpace::srgb)
            report(FindingKind::color_space, not_srgb());
        if (!picture_.has_rights) report(FindingKind::rights_missing, "carries no rights notice");
        const std::uint32_t edge = std::max(picture_.width, picture_.height);
        if (limits_.web_long_edge > 0 && edge > limits_.web_long_edge) {
            report(FindingKind::web_too_large,
                   fmt::format("has {}; the studio's limit for the web is {} on the long edge",
                               pixels(picture_.width, picture_.height), limits_.web_long_edge));
        }
        return std::move(findings_);
    }

    std::vector<Finding> print() {
        // Short side against short side: the picture fills the sheet, turned or not.
        const auto [shorter, longer] = std::minmax(picture_.width, picture_.height);
        const double short_needed = limits_.print_width * limits_.print_ppi;
        const double long_needed = limits_.print_height * limits_.print_ppi;
        // Half a pixel: sizes in centimetres make no whole numbers.
        if (shorter > 0 && (shorter + 0.5 < short_needed || longer + 0.5 < long_needed)) {
            report(FindingKind::print_too_small,
                   fmt::format("has {}; the studio's smallest print needs {:.0f} × {:.0f} at {} "
                               "pixels an inch",
                               pixels(picture_.width, picture_.height), short_needed, long_needed,
                               limits_.print_ppi));
        }
        if (!picture_.has_profile)
            report(FindingKind::color_space, "is for print and carries no colour profile");
        return std::move(findings_);
    }

  private:
    std::string not_srgb() const {
        switch (picture_.color_space) {
            case photo::ColorSpace::adobe_rgb:
                return "is for the web and in Adobe RGB, not sRGB";
            case photo::ColorSpace::unknown:
                return "is for the web and does not say that it is sRGB";
            default:
                break;
        }
        const std::string profile =
            picture_.profile_name.empty() ? "" : " (profile " + picture_.profile_name + ")";
        return "is for the web and not in sRGB" + profile;
    }

    void report(FindingKind kind, std::string detail) {
        findings_.push_back(found(kind, file_.shown, std::move(detail)));
    }

    const JobFile& file_;
    const photo::Picture& picture_;
    const Limits& limits_;
    std::vector<Finding> findings_;
};

}  // namespace

std::vector<Finding> judge_picture(const JobFile& file, const photo::Picture& picture) {
    const bool claims = file.role != Role::other || picture.kind != photo::Kind::other;
    if (!claims || file.size == 0 || picture.verdict == photo::Verdict::whole) return {};
    const bool broken = picture.verdict == photo::Verdict::broken;
    Finding finding = found(broken ? FindingKind::image_broken : FindingKind::image_not_checkable,
                            file.shown, picture.why.empty() ? "could not be checked" : picture.why);
    if (broken) finding.offset = picture.broken_offset;
    // Some sentences of the decoders tell the line themselves.
    const bool told = finding.detail.find(" line ") != std::string::npos;
    if (broken && !told && picture.lost_from_line && picture.height > 0) {
        finding.detail +=
            fmt::format(" (lost from line {} of {})", *picture.lost_from_line, picture.height);
    }
    return {finding};
}

std::vector<Finding> judge_delivery(const JobFile& file, const photo::Picture& picture,
                                    const Limits& limits) {
    if (file.role != Role::picture || file.size == 0) return {};
    // What a broken picture says of itself is not worth a finding of its own.
    if (picture.verdict == photo::Verdict::broken) return {};
    if (file.section == Section::web) return Judge(file, picture, limits).web();
    if (file.section == Section::print) return Judge(file, picture, limits).print();
    return {};
}

}  // namespace glassine::job

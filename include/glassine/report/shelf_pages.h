#pragma once

#include "glassine/report/shelf_results.h"

#include <optional>
#include <string>
#include <vector>

/// The shelf on screen and on paper. All text from outside is escaped.
namespace glassine::report {

/// Jobs by year and the drives they stand on: how many proven copies each has, where, how old the
/// proof is, what is due. One file; searching and filtering are done by a little script in it, and
/// without the script everything is there to be read.
std::string overview_page(const ShelfOverview& shelf);

/// A page of the shelf was written.
struct ShelfPageResult : Common {
    std::string html;  ///< the file
    std::size_t bags = 0;
    std::size_t volumes = 0;
    std::size_t due = 0;  ///< things that are due
};
ShelfPageResult shelf_page_result(const ShelfOverview& shelf, std::string file);

/// What stands on the label for a volume's case.
struct VolumeLabel {
    shelf::VolumeIdentity volume;
    /// The day on which the first of its copies has to be read again; in the past: it is due since
    /// then. Nothing: it carries nothing, is out of service, or the studio audits never.
    std::optional<Date> next_audit;
    std::optional<Date> retired;  ///< out of service since
    struct Job {
        std::string bag;
        std::string seal;  ///< hex
        shelf::CopyState state = shelf::CopyState::unproven;
    };
    std::vector<Job> jobs;  ///< that stand on it, by name

    /// What is written on the drive, or its id where it has no label.
    const std::string& name() const { return volume.label.empty() ? volume.id : volume.label; }
};

struct ShelfLabelResult : Common {
    Date today{};
    std::vector<VolumeLabel> labels;  ///< in the order asked for
    std::string html;                 ///< the page that was written; empty: none
    std::string svg;                  ///< the drawing that was written; empty: none
};

/// One label, 100 by 70 mm, with the volume's id as a square code (QR): ink on white, to be printed
/// as it is. SVG 1.1.
std::string label_svg(const VolumeLabel& label, Date today);
/// A page of labels to cut out, eight to a sheet of A4.
std::string label_sheet(const std::vector<VolumeLabel>& labels, Date today);

std::string to_json(const ShelfPageResult& result);
std::string to_json(const ShelfLabelResult& result);
std::string to_text(const ShelfPageResult& result, const TerminalStyle& style);
std::string to_text(const ShelfLabelResult& result, const TerminalStyle& style);

}  // namespace glassine::report

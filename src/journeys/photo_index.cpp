#include "journeys/photo_index.h"

#include <vector>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

/// Relative to the contact sheet; by the file's place in the job, since frames are known only
/// later.
std::string thumbnail_file(std::size_t file) {
    return job::thumbnail_name(file);
}

}  // namespace

bool PhotoIndex::wants_thumbnail(const job::JobFile& file) {
    using job::Role;
    const bool shot =
        file.section == job::Section::originals || file.section == job::Section::rejects;
    return shot &&
           (file.role == Role::raw || file.role == Role::picture || file.role == Role::proxy);
}

void PhotoIndex::add_thumbnail(std::size_t file, const std::string& jpeg) {
    bag_.add_tag("photo-index/" + thumbnail_file(file), jpeg);
    thumbnails_.insert(file);
}

void PhotoIndex::write(const job::SheetHead& head, const job::Accounting& accounting,
                       std::span<const job::Observed> observed) {
    std::vector<job::FrameRow> rows = job::frame_rows(files_, observed, accounting);
    std::vector<std::string> thumbnails;
    for (std::size_t i = 0; i < accounting.frames.size(); ++i) {
        thumbnails.push_back(thumbnail_of(accounting.frames[i]));
        if (!thumbnails.back().empty()) rows[i].thumbnail = "photo-index/" + thumbnails.back();
    }
    bag_.add_tag(std::string(job::frames_csv_file), job::frames_csv(rows));
    bag_.add_tag(std::string(job::contact_sheet_file),
                 job::contact_sheet(head, accounting, rows, thumbnails));
}

std::string PhotoIndex::thumbnail_of(const job::Frame& frame) const {
    for (const std::size_t file : job::thumbnail_sources(frame))
        if (thumbnails_.contains(file)) return thumbnail_file(file);
    for (const std::size_t file : frame.rejected)
        if (thumbnails_.contains(file)) return thumbnail_file(file);
    return "";
}

}  // namespace glassine::journeys

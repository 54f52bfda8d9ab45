#include "journeys/job_look.h"

#include <algorithm>

namespace glassine::journeys {
namespace {

bool is_original(const job::JobFile& file) {
    return file.section == job::Section::originals &&
           (file.role == job::Role::raw || file.role == job::Role::picture);
}

std::vector<report::SectionCount> counted(const std::vector<job::JobFile>& files) {
    std::vector<report::SectionCount> counts;
    for (const job::Section section : job::all_sections) {
        report::SectionCount count{section};
        for (const job::JobFile& file : files) {
            if (file.section != section || !file.is_payload()) continue;
            ++count.files;
            count.bytes += file.size;
            if (job::is_picture(file.role)) ++count.pictures;
        }
        if (count.files > 0) counts.push_back(count);
    }
    return counts;
}

}  // namespace

JobLook look_at_job(const Context& context, const io::Path& job,
                    const std::array<std::optional<io::Path>, 4>& sections) {
    job::JobFolders folders;
    folders.job = job;
    folders.given = sections;
    folders.usual = context.studio.folders;
    JobLook look;
    look.layout = job::scan_job(context.files, folders);
    look.sections = counted(look.layout.files);
    for (const job::JobFile& file : look.layout.files) {
        if (!file.is_payload()) continue;
        look.payload_bytes += file.size;
        ++look.payload_files;
        look.largest_file = std::max(look.largest_file, file.size);
    }
    if (look.payload_files == 0)
        look.layout.findings.push_back(
            found(FindingKind::job_empty, "", "there is nothing to be kept in this job"));
    else if (std::ranges::none_of(look.layout.files, is_original))
        look.layout.findings.push_back(found(FindingKind::originals_missing, "",
                                             "the originals section holds no picture; check the "
                                             "folder, or name it with --originals"));
    return look;
}

}  // namespace glassine::journeys

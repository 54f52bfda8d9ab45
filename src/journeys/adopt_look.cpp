#include "journeys/adopt_look.h"

#include "glassine/io/files.h"
#include "glassine/job/layout.h"

#include <algorithm>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

class OldJobLooking {
  public:
    OldJobLooking(const Context& context, const io::Path& folder, ChecksumLists& lists)
        : files_(context.files), rules_(context.studio.adopt), folder_(folder), lists_(lists) {}

    AdoptLook look(const std::string& name) {
        auto read = job::read_folder_name(name, rules_);
        if (read.reading)
            look_.reading = std::move(*read.reading);
        else
            problem("", read.why);
        look_into("");
        return std::move(look_);
    }

  private:
    void problem(const std::string& path, const std::string& why) {
        look_.problems.push_back(found(FindingKind::unmapped, path, why));
    }

    void look_into(const std::string& below) {
        for (const io::DirectoryEntry& entry : files_.list(folder_ / below)) {
            const std::string path =
                below.empty() ? entry.name : fmt::format("{}/{}", below, entry.name);
            const io::FileType type = files_.info(folder_ / path).type;
            if (job::is_system_junk(entry.name, type == io::FileType::directory)) continue;
            if (type == io::FileType::directory)
                look_at_folder(path, entry.name);
            else if (type == io::FileType::regular)
                look_at_file(path, entry.name);
            else
                problem(path, "it is no file and no folder");
        }
    }

    void look_at_folder(const std::string& path, const std::string& name) {
        const auto section = job::section_of_folder(name, rules_);
        if (!section) {
            if (is_job_folder_like(path)) return look_into(path);
            return problem(path,
                           "its name stands for no section; say in the studio file "
                           "([adopt]) for which");
        }
        auto& place = look_.sections[job::index(*section)];
        if (place)
            return problem(path, fmt::format("it stands for the section {}, as {} does",
                                             job::word(*section), place->filename().string()));
        place = folder_ / path;
        find_lists(path);
    }

    /// "exports/print", "exports/web": a folder that only holds folders of sections.
    bool is_job_folder_like(const std::string& path) {
        return std::ranges::any_of(
            files_.list(folder_ / path), [&](const io::DirectoryEntry& entry) {
                return files_.info(folder_ / path / entry.name).type == io::FileType::directory &&
                       job::section_of_folder(entry.name, rules_);
            });
    }

    void look_at_file(const std::string& path, const std::string& name) {
        if (ChecksumLists::may_be_list(name) && lists_.add(files_, folder_ / path, path))
            look_.evidence.insert(path);
        else
            problem(path, "it stands in none of the sections");
    }

    /// Lists inside a section are carried with it.
    void find_lists(const std::string& section) {
        io::walk(
            files_, folder_ / section,
            [&](const io::WalkEntry& entry) {
                if (entry.type == io::FileType::regular &&
                    ChecksumLists::may_be_list(job::file_name_of(entry.path)))
                    lists_.add(files_, folder_ / section / entry.path,
                               fmt::format("{}/{}", section, entry.path));
            },
            [](const std::string&, const Error&) {});
    }

    io::FileSystem& files_;
    const job::AdoptRules& rules_;
    const io::Path& folder_;
    ChecksumLists& lists_;
    AdoptLook look_;
};

}  // namespace

AdoptLook look_at_old_job(const Context& context, const io::Path& folder, const std::string& name,
                          ChecksumLists& lists) {
    return OldJobLooking(context, folder, lists).look(name);
}

}  // namespace glassine::journeys

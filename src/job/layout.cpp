#include "glassine/job/layout.h"

#include "collisions.h"
#include "glassine/base/error.h"
#include "glassine/base/text.h"
#include "glassine/io/files.h"

#include <algorithm>
#include <array>
#include <cstddef>
#include <utility>

namespace glassine::job {
namespace {

using io::FileType;

std::string what_it_is(FileType type) {
    switch (type) {
        case FileType::symlink:
            return "a symbolic link";
        case FileType::fifo:
            return "a pipe";
        case FileType::socket:
            return "a socket";
        default:
            return "a device";
    }
}

/// `path` as seen from `folder`; nothing if it does not lie inside.
std::optional<std::string> below(const io::Path& folder, const io::Path& path) {
    const auto [rest_of_folder, rest] =
        std::mismatch(folder.begin(), folder.end(), path.begin(), path.end());
    if (rest_of_folder != folder.end()) return std::nullopt;
    io::Path relative;
    for (auto part = rest; part != path.end(); ++part)
        relative /= *part;
    return relative.string();
}

std::string joined(const std::string& folder, const std::string& name) {
    if (folder.empty() || name.empty()) return folder + name;
    return folder + '/' + name;
}

class Scanner {
  public:
    Scanner(io::FileSystem& files, const JobFolders& folders) : files_(files), wanted_(folders) {
        job_ = existing_folder(folders.job, "look at the job");
    }

    Layout run() {
        for (const Section section : all_sections)
            layout_.folders[index(section)] = folder_for(section);
        check_folders();
        for (const Section section : all_sections)
            scan_section(section);
        if (!is_section(job_)) scan_rest();
        std::ranges::move(find_collisions(layout_.files), std::back_inserter(layout_.findings));
        return std::move(layout_);
    }

  private:
    io::Path existing_folder(const io::Path& path, const std::string& tried) {
        io::Path resolved = files_.resolve(path);
        if (files_.info(resolved).type != FileType::directory) {
            throw Error(Cause::not_found, tried, path.string(), "it is not a folder",
                        "give the folder that holds the files");
        }
        return resolved;
    }

    std::optional<io::Path> folder_for(Section section) {
        if (const auto& given = wanted_.given[index(section)]) {
            return existing_folder(*given, "look at the section " + std::string(word(section)));
        }
        if (wanted_.usual[index(section)] == ".") return job_;
        const io::Path usual = job_ / wanted_.usual[index(section)];
        if (is_real_folder(usual)) return usual;
        return spelt_otherwise(wanted_.usual[index(section)]);
    }

    /// A folder of its own, reached through no link.
    bool is_real_folder(const io::Path& path) {
        const std::optional<io::FileInfo> info = files_.find(path);
        return info && info->type == FileType::directory && files_.resolve(path) == path;
    }

    /// "Originals" for "originals": people and cameras differ in this.
    std::optional<io::Path> spelt_otherwise(const std::string& usual) {
        const std::string folded = text::fold_case(usual);
        for (const io::DirectoryEntry& entry : files_.list(job_)) {
            if (text::fold_case(entry.name) == folded && is_real_folder(job_ / entry.name))
                return job_ / entry.name;
        }
        return std::nullopt;
    }

    void check_folders() const {
        for (const Section a : all_sections) {
            const auto& folder = layout_.folders[index(a)];
            if (!folder) continue;
            if (*folder != job_ && below(*folder, job_)) {
                throw Error(Cause::usage, "look at the section " + std::string(word(a)),
                            folder->string(), "it holds the job folder itself",
                            "give a folder inside or beside the job");
            }
            for (const Section b : all_sections) {
                if (a < b && folder == layout_.folders[index(b)]) {
                    throw Error(Cause::usage, "tell the sections apart", folder->string(),
                                "it is given both for " + std::string(word(a)) + " and for " +
                                    std::string(word(b)),
                                "give each section a folder of its own");
                }
            }
        }
    }

    bool is_section(const io::Path& path) const {
        return std::ranges::find(layout_.folders, std::optional(path)) != layout_.folders.end();
    }

    void scan_section(Section section) {
        const auto& root = layout_.folders[index(section)];
        if (!root) return;
        const std::string shown = below(job_, *root).value_or(root->string());
        walk(*root, shown, [&](const io::WalkEntry& entry, std::string name) {
            add(section, *root, entry, std::move(name));
        });
    }

    void scan_rest() {
        walk(job_, {}, [&](const io::WalkEntry& entry, std::string name) {
            const bool unfinished = is_unfinished(file_name_of(entry.path));
            report(unfinished ? FindingKind::unfinished_file : FindingKind::unsorted_file,
                   std::move(name),
                   unfinished ? "looks like an unfinished download or a temporary file"
                              : "lies outside the job's sections and would be left behind");
        });
    }

    /// Hands every regular file below `root` to `take`, with the name to show; reports what is
    /// none.
    void walk(const io::Path& root, const std::string& shown, const auto& take) {
        const auto visit = [&](const io::WalkEntry& entry) {
            const std::string name = joined(shown, entry.path);
            if (entry.type == FileType::directory && is_section(root / entry.path)) return;
            if (is_junk(root, entry)) {
                report(FindingKind::system_junk, name, "was left by an operating system; left out");
            } else if (entry.type == FileType::regular) {
                take(entry, name);
            } else if (entry.type != FileType::directory) {
                report(FindingKind::special_file, name,
                       "is " + what_it_is(entry.type) +
                           " and was not followed; put the file itself in its place");
            } else if (root != job_ || is_section(job_)) {
                check_name(entry, name);
            }
        };
        const auto on_error = [&](const std::string& path, const Error& error) {
            layout_.findings.push_back(found(FindingKind::unreadable, Severity::blocking,
                                             joined(shown, path), error.sentence()));
        };
        io::walk(files_, root, visit, on_error, [&](const io::WalkEntry& entry) {
            return !is_section(root / entry.path) && !is_junk(root, entry);
        });
    }

    void add(Section section, const io::Path& root, const io::WalkEntry& entry, std::string shown) {
        check_name(entry, shown);
        const std::string_view file_name = file_name_of(entry.path);
        if (entry.info.size == 0) report(FindingKind::file_empty, shown, "holds no byte");
        if (is_unfinished(file_name)) {
            report(FindingKind::unfinished_file, shown,
                   "looks like an unfinished download or a temporary file");
        }
        const Role role = role_of(section, file_name);
        const bool left_out = section == Section::rejects && role == Role::raw;
        std::string name =
            left_out ? std::string{} : std::string(payload_folder(section)) + '/' + entry.path;
        layout_.files.push_back({root / entry.path, section, std::move(shown), entry.path,
                                 std::move(name), entry.info.size, entry.info.modified, role});
    }

    void check_name(const io::WalkEntry& entry, const std::string& shown) {
        if (const auto why = not_portable(file_name_of(entry.path)))
            report(FindingKind::name_not_portable, shown, "the name " + *why);
    }

    bool is_junk(const io::Path& root, const io::WalkEntry& entry) {
        const std::string_view name = file_name_of(entry.path);
        if (entry.type == FileType::directory) return is_system_junk(name, true);
        if (entry.type != FileType::regular) return false;
        if (is_system_junk(name, false)) return true;
        return name.starts_with("._") && is_apple_double(root / entry.path);
    }

    /// RFC 1740 §3: an AppleDouble header file begins with 00 05 16 07.
    bool is_apple_double(const io::Path& path) {
        constexpr std::array mark{std::byte{0x00}, std::byte{0x05}, std::byte{0x16},
                                  std::byte{0x07}};
        std::array<std::byte, 4> front{};
        try {
            return files_.open(path)->read(0, front) == front.size() && front == mark;
        } catch (const Error&) {
            // Not proven to be junk, so it belongs to the job; reading it there reports the fault.
            return false;
        }
    }

    void report(FindingKind kind, std::string path, std::string detail) {
        const Severity severity =
            kind == FindingKind::special_file ? Severity::blocking : info(kind).severity;
        layout_.findings.push_back(found(kind, severity, std::move(path), std::move(detail)));
    }

    io::FileSystem& files_;
    const JobFolders& wanted_;
    io::Path job_;
    Layout layout_;
};

}  // namespace

Layout scan_job(io::FileSystem& files, const JobFolders& folders) {
    return Scanner(files, folders).run();
}

}  // namespace glassine::job

#pragma once

#include "glassine/base/finding.h"
#include "glassine/base/time.h"
#include "glassine/io/file_system.h"
#include "glassine/job/section.h"
#include "glassine/job/studio.h"

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::job {

/// What a file is in its job, judged by section and name alone.
enum class Role {
    raw,      ///< sensor data
    sidecar,  ///< XMP beside a raw
    picture,  ///< JPEG, TIFF, PNG or HEIF
    proxy,    ///< a JPEG in the rejects section: stands for a rejected frame
    other,    ///< anything else: films, sound, catalogue files
};

struct JobFile {
    std::string path;  ///< where it is read from
    Section section = Section::originals;
    std::string shown;  ///< the path that findings name: below the job folder where it lies there
    std::string below;  ///< its path below the section's folder, wherever that lies
    std::string name;   ///< its path in the bag ("data/print/0042.jpg"); empty: not in the payload
    std::uint64_t size = 0;
    Timestamp modified;
    Role role = Role::other;

    /// Rejected raws are known, hashed and listed, but not carried into the bag; all else is.
    bool is_payload() const { return !name.empty(); }
};

/// Where a job's files lie.
struct JobFolders {
    io::Path job;
    /// By `index(Section)`: a folder anywhere, given by the user; it must exist.
    std::array<std::optional<io::Path>, 4> given;
    /// By `index(Section)`: below `job`, from the studio file; may be missing.
    std::array<std::string, 4> usual = Studio{}.folders;
};

struct Layout {
    std::vector<JobFile> files;  ///< by section, then by path
    std::vector<Finding> findings;
    /// By `index(Section)`: the folder that was scanned; nothing if the job has no such section.
    std::array<std::optional<io::Path>, 4> folders;
};

/// Looks at every entry of a job folder without opening files (but for the first four bytes of
/// AppleDouble candidates) and says what belongs where. Alters nothing.
///
/// Finds `system-junk`, `unfinished-file`, `file-empty`, `unsorted-file`, `special-file`,
/// `name-not-portable`, `name-collision` and `unreadable` (folders). A section's usual folder is
/// found blind to case when the job has none of exactly that name. A section inside another
/// section's folder belongs to itself.
///
/// Error `not_found` when the job folder or a given folder is not there or is not a folder,
/// `usage` when two sections share a folder or a section's folder holds the whole job folder
/// and more.
Layout scan_job(io::FileSystem& files, const JobFolders& folders);

/// The role by section and file name: extensions only, blind to case.
Role role_of(Section section, std::string_view file_name);

/// A raw, a picture or a proxy.
bool is_picture(Role role);

/// The part of a path before the last dot of its last component: "originals/A.b/0042".
std::string_view stem_of(std::string_view path);
/// The last component of a path.
std::string_view file_name_of(std::string_view path);
/// What stands before the last component, without the slash; may be empty.
std::string_view folder_of(std::string_view path);

/// Why a name cannot be kept on every file system that shelf drives carry (exFAT, NTFS, APFS and
/// HFS+, ext4) or in manifests, as the end of a sentence ("holds a colon, …"); nothing if it can.
/// One path component.
std::optional<std::string> not_portable(std::string_view name);

/// Whether an operating system leaves files or folders of this name behind (docs/system-junk.md).
/// Names that begin with `._` are AppleDouble only if their content is: see `scan_job`.
bool is_system_junk(std::string_view name, bool folder);

/// Whether a name is one that unfinished downloads, copies and editors' temporary files have.
bool is_unfinished(std::string_view name);

}  // namespace glassine::job

#pragma once

#include "glassine/io/file_system.h"
#include "glassine/job/folder_name.h"
#include "glassine/job/section.h"

#include <array>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::job {

/// A length of calendar time. Only one of the fields is set when it came from a studio file.
struct Period {
    unsigned months = 0;
    unsigned days = 0;
    bool operator==(const Period&) const = default;
};

/// "1 year", "18 months", "6 weeks", "90 days" (a whole number from 1 to 1200 and a unit, singular
/// or plural); nothing if it is not.
std::optional<Period> parse_period(std::string_view text);

/// What the studio has promised itself about copies. The defaults are common practice, no source:
/// three copies, on two kinds of media, one of them off site, a year on the server, an audit a
/// year; drives replaced after five years (the "three to five years" of photographers' and
/// archives' advice).
struct Policy {
    unsigned copies = 3;       ///< wanted in all, the original server copy included; 1 to 20
    unsigned off_site = 1;     ///< of them in another place; 0 to `copies`
    unsigned volumes = 3;      ///< different volumes that they must stand on; 1 to `copies`
    unsigned media_kinds = 2;  ///< kinds of media (drive, server, offsite) among them; 1 to 3
    Period audit_every{12, 0};
    Period server_keeps{12, 0};  ///< how long a closed job stays on the server
    Period promised{24, 0};      ///< counted from the shoot: what the client was told
    Period keep{120, 0};         ///< counted from the shoot: what the studio means to do
    Period drive_age{60, 0};     ///< at which a drive is to be replaced
    /// Proven copies on different volumes before the medium a file came from may be wiped; 1 to
    /// 20. Never more than `copies` unless the studio file says so.
    unsigned clear_copies = 2;
    bool operator==(const Policy&) const = default;
};

/// What a delivered picture is measured against (common practice, no source).
struct Limits {
    unsigned web_long_edge = 3000;  ///< pixels; 0: no limit
    double print_width = 4;         ///< inches, the shorter side of the smallest print
    double print_height = 6;        ///< inches, the longer side
    unsigned print_ppi = 300;       ///< pixels an inch; 0: print sizes are not judged
    bool operator==(const Limits&) const = default;
};

/// The studio's settings, read from its studio file. docs/studio-file.md explains every key and
/// docs/studio-example.toml sets all of them. A default-constructed Studio is what holds without a
/// file.
struct Studio {
    std::string name;
    std::string contact_name;
    std::string contact_email;
    std::string
        organisation;    ///< bag-info.txt's Source-Organization; the studio's name unless given
    std::string rights;  ///< the rights notice that goes into bag-info.txt
    /// Who may sign that a medium is cleared for wiping; nobody unless named.
    std::vector<std::string> clears_media;

    /// Folders of the sections, relative to the job folder, by `index(Section)`.
    std::array<std::string, 4> folders{"originals", "print", "web", "rejects"};
    /// Where `closeout` writes when it is not told.
    std::vector<std::string> destinations;
    unsigned recovery_percent =
        5;  ///< recovery data in percent of the payload; 0: none, at most 100

    Limits limits;
    Policy policy;
    AdoptRules adopt;  ///< how old folders that were never bags are read

    /// The table `[object_store]` as it stands (numbers and truth values as text), for the
    /// destination that understands it.
    std::map<std::string, std::string> object_store;

    bool operator==(const Studio&) const = default;
};

/// Reads a studio file (TOML 1.0). Error `not_found`, or `malformed` with line and column for
/// anything that is not TOML, has the wrong type, lies outside its range, or is no known key: then
/// the nearest known key is named.
Studio read_studio(io::FileSystem& files, const io::Path& path);

/// The same for text at hand; `path` is what an Error names.
Studio parse_studio(std::string_view toml, const std::string& path);

}  // namespace glassine::job

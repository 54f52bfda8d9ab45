#pragma once

#include "glassine/report/results.h"
#include "glassine/report/terminal.h"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::report {

/// What became of one bag or folder of an old archive.
enum class Fate {
    carried,   ///< a copy was made and proven
    upgraded,  ///< a new bag was made of it and proven
    adopted,   ///< a folder that was no bag was closed out
    already,   ///< a proven copy stood at the destination already
    damaged,   ///< carried as it is, with damage that could not be healed
    failed,    ///< there is no proven copy
};
/// "carried", "upgraded", …
std::string_view word(Fate fate);
/// Whether all that the source held now stands proven at the destination.
bool arrived(Fate fate);

struct MigratedBag {
    std::string drive;   ///< the source that it stands on, as it was named
    std::string source;  ///< the bag or folder on the old drive
    std::string path;    ///< of the copy; empty when there is none
    Fate fate = Fate::failed;
    std::string how;          ///< "read back from the medium", …
    std::string failure;      ///< why there is no copy; empty when there is one
    std::uint64_t files = 0;  ///< of the source, tag files too
    std::uint64_t bytes = 0;
    /// Proven ones, this one among them, without those on the old drives: as far as the register
    /// knows.
    std::uint64_t copies = 0;
    std::vector<std::string> lacks;  ///< what the policy asks for beyond that: "1 of 3 copies"
    std::vector<HealedFile> healed;  ///< damaged at the source, whole in the copy
    std::vector<Finding> findings;   ///< paths relative to the source
};

/// What a drive held, and whether it may be retired.
struct RetiredSource {
    std::string path;
    std::uint64_t files = 0;  ///< on it, system junk too
    std::uint64_t bytes = 0;
    std::uint64_t accounted = 0;    ///< of the files: arrived, or not to be carried
    std::vector<Finding> left;      ///< what a person has to decide on
    std::vector<std::string> junk;  ///< left by operating systems, not carried
    /// What Glassine keeps about the drive itself: its identity, its event log. Not carried.
    std::vector<std::string> records;
    /// Rejected raws of adopted folders: not in the bags, but a JPEG of each is.
    std::vector<std::string> rejected;
    bool may_go = false;        ///< everything on it is accounted for
    std::uint64_t too_few = 0;  ///< of its bags: those that lack what the policy wants

    /// Whether the policy lets it go.
    bool policy_lets_go() const { return may_go && too_few == 0; }
};

struct MigrateResult : Common {
    std::string target;
    std::vector<MigratedBag> bags;
    std::vector<RetiredSource> sources;
    std::optional<double> budget;   ///< seconds that were given
    std::vector<std::string> left;  ///< bags and folders left for the next run, as they were named
    std::uint64_t copies_wanted = 0;  ///< by the studio's policy
    std::vector<Finding> findings;    ///< what could not be recorded, and why
};

std::string to_text(const MigrateResult& result, const TerminalStyle& style);
std::string to_json(const MigrateResult& result);
/// The statement of retirement as a page of its own: no script, nothing fetched, names escaped.
std::string to_html(const MigrateResult& result);

}  // namespace glassine::report

#pragma once

#include "glassine/base/finding.h"
#include "glassine/base/time.h"
#include "glassine/digest/digest.h"
#include "glassine/shelf/event.h"
#include "glassine/shelf/policy.h"

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// May this medium be wiped? Pure logic over digests: the files on the medium were hashed by the
/// caller, and whoever holds their content answers through `Holdings`. Glassine never deletes or
/// formats.
namespace glassine::shelf {

/// A copy that holds a content.
struct HeldCopy {
    std::string volume;  ///< an id that is the same for everything on one medium
    std::string label;   ///< for people
    std::string place;
    std::string purchase;
    bool whole = false;               ///< the last check found it whole
    std::optional<Timestamp> proven;  ///< when
};

/// One bag, or folder, that holds a content.
struct Held {
    std::string where;      ///< for people: a bag's name and path, a folder
    std::string bag;        ///< the bag's name; empty for a folder
    bool by_proxy = false;  ///< not the content but what stands for a rejected raw
    std::vector<HeldCopy> copies;
};

/// Answers where a content is held.
class Holdings {
  public:
    virtual ~Holdings() = default;
    virtual std::vector<Held> find(const digest::Value& content) = 0;
};

/// Plain folders, hashed just now (`--against DIR…`).
class FolderHoldings : public Holdings {
  public:
    /// A folder and the medium it lies on; each medium counts once. Returns the folder's number.
    std::size_t add_folder(HeldCopy medium, std::string folder);
    void add_file(std::size_t folder, const digest::Value& content);
    std::vector<Held> find(const digest::Value& content) override;

  private:
    struct Folder {
        HeldCopy medium;
        std::string path;
    };
    std::vector<Folder> folders_;
    std::map<std::string, std::vector<std::size_t>> by_content_;
};

/// A file on the medium.
struct MediumFile {
    std::string path;  ///< relative to the medium's folder
    std::uint64_t bytes = 0;
    /// By every algorithm that the holdings may know it by (`Register::algorithms`), SHA-512 first.
    std::vector<digest::Value> digests;
};

struct ClearanceQuestion {
    std::span<const MediumFile> files;
    /// What could not be read, or was passed over: any finding here, of any severity but `note`,
    /// and the medium is not clear.
    std::span<const Finding> not_looked_at;
    std::string own_volume;  ///< the medium itself: copies on it do not count
    unsigned copies = 2;     ///< wanted on different volumes; at least 1
    Period fresh{12, 0};     ///< a copy proven longer ago does not count
    Date today;
};

struct Clearance {
    bool clear = false;
    std::uint64_t files = 0;
    std::uint64_t held = 0;  ///< files that may go
    /// What may not go (`not-held`, `held-too-seldom`, `copy-stale`), then what was not looked at.
    std::vector<Finding> findings;
    /// The bags that hold what may go, by name, and how many of the files each holds. A content may
    /// stand in several.
    std::map<std::string, std::uint64_t> bags;
    /// Sentences: why the copies that count are weaker than their number says.
    std::vector<std::string> weaknesses;
    /// SHA-512 of the list "hex digest, two blanks, path, line feed" sorted by path bytes: what
    /// exactly was cleared.
    digest::Value list;
};

/// A file may go when its content is held in `copies` whole copies on different volumes, each
/// proven recently and none on the medium itself; or when it is a rejected raw whose proxy is. A
/// medium without any file is not clear: more often than not it is not mounted.
Clearance judge_clearance(const ClearanceQuestion& question, std::span<Holdings* const> holdings);

/// The written clearance: one event, signed by the person, with the date and the digest of the
/// list. Nothing unless the result is clear and the person is named in the policy.
std::optional<Event> written_clearance(const Clearance& clearance, const Policy& policy,
                                       const std::string& person, const std::string& medium,
                                       Timestamp now);

}  // namespace glassine::shelf

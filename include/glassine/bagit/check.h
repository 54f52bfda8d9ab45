#pragma once

#include "glassine/bagit/bag.h"
#include "glassine/flow/river.h"
#include "glassine/io/file_system.h"

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// Is this bag complete and valid (RFC 8493 §3), and if not, what is wrong with it?
namespace glassine::bagit {

/// What a check found.
struct BagReport {
    std::string path;           ///< as it was given
    std::string name;           ///< of the base directory
    std::string archive;        ///< media type of the archive that it is packed in; empty: a folder
    bool holds_bag = true;      ///< false for an archive in which there is no bag at all
    std::string bagit_version;  ///< as declared; empty when it declares none
    std::string encoding;       ///< of the tag files, as declared
    bool complete = false;      ///< §3, conditions 1 to 5
    /// §3, conditions 6 and 7; nothing after a quick check or one that was stopped. A bag with a
    /// checksum that could not be verified (unknown algorithm, unreadable file) is not valid.
    std::optional<bool> valid;
    bool stopped = false;     ///< by the stop token: the findings are those up to then
    std::uint64_t files = 0;  ///< payload files that are there
    std::uint64_t bytes = 0;  ///< of payload files that are there
    std::uint64_t bytes_read = 0;
    double seconds = 0;               ///< of reading
    std::optional<std::string> seal;  ///< SHA-512 of tagmanifest-sha512.txt
    std::vector<Element> info;        ///< the metadata file, in its order
    std::vector<Finding> findings;    ///< worst first
};

struct CheckOptions {
    bool quick = false;  ///< structure and Payload-Oxum only, no payload file is opened
    /// How payload is read. `observer` sees one run over all bytes; `on_item` is called after the
    /// check's own.
    flow::Options flow;
    /// Get every byte that the check reads, under names relative to the bag: whoever else needs
    /// them does not read the bag again.
    std::vector<flow::Sink*> further;
    /// Going on with a check that was stopped: files of which this is true were found whole by it,
    /// and are not read again. They count as proven. May be empty.
    std::function<bool(std::string_view name)> proven_before;
    /// Files of which this is true are left for another time, and the check counts as stopped.
    /// Asked once for each file that is to be read, in their order, before the first is; not of the
    /// standard's own tag files. May be empty.
    std::function<bool(std::string_view name, std::uint64_t size)> put_off;
    /// Hears of each file found whole by every manifest that lists it, one call at a time,
    /// from changing threads, so that a check that is stopped can go on from there. May be empty.
    std::function<void(std::string_view name)> on_proven;
    std::size_t most_findings = 100'000;
    /// Looks at the bag once its structure is known, before the payload is read (a profile); what
    /// it reports is told with the rest. `archive` as in `BagReport`. May be empty.
    using Look = std::function<void(const Bag& bag, std::string_view archive,
                                    const std::function<void(Finding)>& report)>;
    Look look;
};

/// The part of a check that digests arrive at, for folders and archives alike. Thread-safe.
class Verdict {
  public:
    using Index = Listing::Index;

    explicit Verdict(Bag bag);
    ~Verdict();
    const Bag& bag() const;

    /// Files whose digests are wanted beside those of `Bag::tag_digests`: all files that manifests
    /// list, and, when something is missing, those that none lists (to tell moved from lost).
    const std::vector<Index>& wanted() const;
    /// In which algorithms.
    std::vector<digest::Algorithm> algorithms(Index file) const;
    bool wants(Index file, digest::Algorithm algorithm) const;

    /// The digest of a file that was read whole.
    void digest(Index file, digest::Algorithm algorithm, const digest::Value& value);
    /// How the reading of a file ended; anything but whole becomes a finding.
    void outcome(Index file, const flow::Outcome& outcome);
    void report(Finding finding);

    /// The judgement. With `quick` no digest is waited for. Path, times and the number of bytes
    /// read are the caller's to add.
    BagReport finish(bool quick, bool stopped);

  private:
    struct State;
    std::unique_ptr<State> state_;
};

/// What an outcome of reading says about a file; nothing for one that was read whole.
std::vector<Finding> outcome_findings(const Listing::Entry& file, const flow::Outcome& outcome);

/// Checks a bag that is a folder. Each file is read once, whatever the number of manifests. Nothing
/// is written, no link is followed below the base directory, no special file is opened. Throws
/// Error only when the folder itself cannot be listed.
BagReport check_folder(io::FileSystem& files, const io::Path& path, const CheckOptions& options);

/// Listing, tag files and structure of a folder bag, without reading payload: for `inspect`,
/// `migrate`, `restore`. Tag files go through the river as well, so unreadable ranges become
/// findings.
Bag load_folder(io::FileSystem& files, const io::Path& path, const LoadOptions& load,
                const flow::Options& flow);

/// The report of a bag that is only looked at: `valid` is not known.
BagReport quick_report(Bag bag, const io::Path& path);

/// A folder that holds a bagit.txt, or has lost it: one with data/ and a manifest beside it is a
/// bag that is not complete, and must not go unseen when a drive is looked through.
bool is_bag_folder(io::FileSystem& files, const io::Path& path);
/// All bag folders at or below `path`, in walking order, without those inside a bag. Folders that
/// cannot be listed are handed to `on_error`, files that are archives by their names (outside bags)
/// to `on_archive`, which may be empty.
std::vector<io::Path> find_bags(
    io::FileSystem& files, const io::Path& path,
    const std::function<void(const std::string& path, const Error&)>& on_error,
    const std::function<void(const io::Path& archive)>& on_archive = {});

}  // namespace glassine::bagit

#pragma once

#include "glassine/bagit/check.h"
#include "glassine/journeys/context.h"
#include "glassine/shelf/event.h"
#include "glassine/shelf/facts.h"
#include "glassine/shelf/register.h"
#include "glassine/shelf/volume.h"

#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::journeys {

/// A copy of a bag as the register knows it, and where it stands now.
struct KnownCopy {
    std::string bag;  ///< the bag's name
    shelf::CopyFacts facts;
    shelf::VolumeIdentity volume;
    /// The bag's folder, or the archive that it is packed into (`facts.packed`); nothing while its
    /// volume is not connected (or the bag is not there).
    std::optional<io::Path> stands;
};

/// What a journey writes into the shelf's books, and what it asks of them: the one door between
/// journeys and the register. A bag here is a folder, or an archive that one is packed into.
///
///     ShelfRecords records(context);
///     records.record_copy(bag_folder, shelf::event_type::replication, "carried from …", how);
///     std::ranges::move(records.take_findings(), std::back_inserter(result.findings));
///
/// Each event goes first into the own log of the volume that the bag lies on (the nearest folder at
/// or above it with an identity), then into the register, so that the register can always be
/// rebuilt from the drives. Nothing here throws: the copies are what they are, whatever becomes of
/// the books. What could not be written down is a finding that says how to make up for it
/// (`not-recorded`; `volume-unknown` where the place has no identity; `volume-cloned` where two
/// have the same), and none of them weighs more than a warning.
///
/// The register is opened at the first use; a missing one is made when there is something to
/// record (`register-new`), a damaged one is named and never replaced. With an empty
/// `Context::register_file` every call does nothing and finds nothing. One object belongs to one
/// thread at a time.
class ShelfRecords {
  public:
    explicit ShelfRecords(const Context& context);
    ShelfRecords(const ShelfRecords&) = delete;
    ~ShelfRecords();

    // Recording.

    /// A copy of a bag now stands at `bag`: its tag files are read and its content is taken into
    /// the register. `how`: `ingestion` for a bag sealed just now, `replication` for a copy of a
    /// bag, `accession` for a bag that others made. `proof`: how the whole copy was found to be as
    /// sealed, in the result's words ("read back from the medium", "store checksum, not read
    /// back"): recorded as a fixity check of its own that says so. `met` as in `record_check`.
    void record_copy(const io::Path& bag, std::string_view how, std::string detail,
                     std::string_view proof, std::optional<shelf::BagRecord> met = {});

    /// An upgrade: the bag at `bag` was given the new seal that it carries now, in place of
    /// `old_seal` (hex).
    void record_resealing(const io::Path& bag, const std::string& old_seal, std::string detail);

    /// A check of the bag at `report.path` that came to its end. Full checks prove or accuse, quick
    /// ones (`quick`) accuse only. `since`: when the first of its files was read, where the check
    /// went on from an earlier one. `met`: what the check has seen of the bag, where reading its
    /// tag files once more would take as long as the check.
    void record_check(const bagit::BagReport& report, bool quick,
                      std::optional<Timestamp> since = {},
                      std::optional<shelf::BagRecord> met = {});

    /// Files of the copy at `bag` that were met damaged while something else was done with it.
    void record_damage(const io::Path& bag, std::vector<std::string> notes);

    /// What was healed in the bag at `bag`.
    void record_recovery(const io::Path& bag, shelf::Outcome outcome, std::string detail,
                         std::vector<std::string> notes);

    /// Something was handed out of the copy at `bag` to `target`.
    void record_dissemination(const io::Path& bag, std::string detail, const std::string& target);

    /// The bag stands on its volume, whatever it is like: its tag files are read unless the
    /// register has it there with that seal already.
    void record_presence(const io::Path& bag, const std::string& seal);

    /// A volume and where it stands now.
    void record_volume(const shelf::FoundVolume& volume);

    /// An event that is about no copy, into the register and into the own log of `volume` where
    /// one is given.
    void record(const shelf::Event& event, const shelf::FoundVolume* volume = nullptr);

    // Asking. Answers are empty when there is no register or it cannot be read; `take_findings`
    // tells the latter.

    /// All copies that stand somewhere, of the bag of that name (and seal, unless it is empty):
    /// connected ones first, whole before doubtful, folders before archives, the latest proven
    /// first.
    std::vector<KnownCopy> copies_of(std::string_view bag, std::string_view seal = {});
    /// Whether what could not be read is the fault of the bag: a drive that was pulled out damages
    /// nothing. True where nobody can tell.
    bool still_there(const io::Path& bag);
    /// Whether the register expects a copy of a bag right there.
    bool knows(const io::Path& copy);
    /// The volume if it is connected: where it was last seen, beside other volumes' places, or at
    /// any mount point.
    std::optional<shelf::FoundVolume> connected(const std::string& volume_id);
    /// All volumes of the register that are connected.
    std::vector<shelf::FoundVolume> connected_volumes();
    /// What the register says of a seal found on the copy at `bag` of the bag called `name`;
    /// nothing when it lies on no volume or nobody ever saw that bag.
    std::optional<shelf::SealVerdict> judge_seal(const io::Path& bag, const std::string& name,
                                                 const std::string& seal);

    /// The register, for what is not offered here; null when there is none or it cannot be read.
    shelf::Register* register_if_any();
    /// The volume that a path lies on; nothing when it has no identity or two carry the same.
    const shelf::FoundVolume* volume_of(const io::Path& path);

    /// What was found since the last call, worst first.
    std::vector<Finding> take_findings();

  private:
    struct Place;
    std::optional<Place> place_of(const io::Path& bag, bool is_new = false);
    shelf::BagRecord look_into(const io::Path& bag, Place& place);
    void take(shelf::BagRecord& record, Place& place) const;
    const shelf::CopyFacts* known_at(Place& place);
    void identify(const io::Path& bag, Place& place);
    std::optional<shelf::BagRecord> record_if_readable(const bagit::BagReport& report,
                                                       shelf::Outcome outcome, Place& place);
    shelf::Register* open(bool create);
    void create_register();
    void tell(Finding finding);
    shelf::Event about(const Place& place, std::string_view type, shelf::Outcome outcome,
                       std::string detail, Timestamp time) const;
    void write(const Place& place, const std::vector<shelf::Event>& events,
               const shelf::BagRecord* bag);
    void write_log(const shelf::FoundVolume& volume, const std::vector<shelf::Event>& events);
    const shelf::Facts& facts();
    std::optional<shelf::FoundVolume> look_at(const io::Path& root, const std::string& id);

    const Context& context_;
    std::optional<shelf::Register> register_;
    bool unusable_ = false;
    std::optional<shelf::Facts> facts_;
    std::map<io::Path, std::optional<shelf::FoundVolume>> volumes_;  ///< by parent folder
    std::vector<Finding> findings_;
    std::set<std::string> told_;
};

}  // namespace glassine::journeys

#pragma once

#include "glassine/shelf/due.h"
#include "shelf/shelf_values.h"

#include <map>
#include <memory>
#include <optional>
#include <random>
#include <set>
#include <string>
#include <tuple>
#include <vector>

/// A studio's shelf as it really stands, kept in plain maps beside the register: what lies on which
/// drive, what rotted there, and what the studio was told so far.
namespace glassine::test {

struct ModelCopy {
    const shelf::BagRecord* bag = nullptr;
    bool rotten = false;     ///< what is on the medium
    bool known_bad = false;  ///< what an audit has said of it
    std::optional<Timestamp> proven;
};

struct ModelVolume {
    shelf::VolumeIdentity identity;
    std::string root;
    bool alive = true;
    std::map<std::string, ModelCopy> copies;  ///< by bag name
    std::vector<shelf::Event> log;            ///< the file at its root
    std::optional<Timestamp> first_error;
    std::optional<Timestamp> last_error;
    std::uint64_t used() const;
};

/// What is due, in a form that two ways of working it out can be compared in.
using DueKey = std::tuple<std::string, std::string, std::string>;  // kind, volume, bag

class StudioModel {
  public:
    explicit StudioModel(shelf::Register& reg, unsigned seed);

    void set_day(Date day);
    Date today() const { return today_; }

    /// A job done, on the server and on a drive.
    void close_job();
    /// Something rots silently, somewhere.
    void rot();
    /// A drive is found dead.
    void lose_drive();
    /// Does what an item of the list asks for.
    void work_off(const shelf::DueItem& item);

    std::set<DueKey> due(const shelf::Policy& policy) const;
    static std::set<DueKey> keys(const std::vector<shelf::DueItem>& items);

    /// Volumes on which the content is held and proven within a year, by what is known.
    unsigned held(const std::string& bag) const;

    /// A new register from nothing but what the living drives carry.
    void rebuild(shelf::Register& into) const;

    const std::map<std::string, ModelVolume>& volumes() const { return volumes_; }
    const std::vector<std::unique_ptr<shelf::BagRecord>>& bags() const { return bags_; }
    bool chance(double probability);
    std::size_t pick(std::size_t below);

  private:
    Timestamp now();
    ModelVolume& add_volume(shelf::VolumeKind kind);
    ModelVolume& server();
    ModelVolume& drive_with_room();
    void put(ModelVolume& volume, const shelf::BagRecord& bag, std::string_view how);
    void tell(ModelVolume& log, shelf::Event event);
    shelf::Event event(std::string_view type, const ModelVolume& volume,
                       const shelf::BagRecord& bag, shelf::Outcome outcome);
    void audit(ModelVolume& volume, const std::string& bag);
    void mend(ModelVolume& volume, const std::string& bag);
    void drop(ModelVolume& volume, const std::string& bag);
    void retire(ModelVolume& volume, ModelVolume& told);
    ModelVolume& destination_of(const shelf::DueItem& item);
    void copy_further(const std::string& bag, const shelf::DueItem& item);
    void replace(ModelVolume& old);
    ModelCopy* good_copy(const std::string& bag);

    shelf::Register& register_;
    std::mt19937 random_;
    Date today_{};
    std::int64_t tick_ = 0;
    std::map<std::string, ModelVolume> volumes_;
    std::vector<std::unique_ptr<shelf::BagRecord>> bags_;
    std::map<std::string, std::set<std::string>> ever_on_;  ///< volumes a bag was ever put on
    std::map<std::string, std::set<std::string>> dropped_;  ///< and dropped from on purpose
    std::map<std::string, Timestamp> last_error_;           ///< of any copy of a bag
};

}  // namespace glassine::test

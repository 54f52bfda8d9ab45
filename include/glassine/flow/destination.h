#pragma once

#include "glassine/flow/river.h"
#include "glassine/flow/sink.h"

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::flow {

/// Something that takes named streams of bytes, proves what it holds by giving them back, and
/// publishes the whole under its name in one step. A folder on a volume, an archive file, an object
/// store: journeys do not know which one they write to.
///
/// The order of calls: `check`, `prepare`, the river runs with `sink()`, `put` for the tag files,
/// `sync`, `read_back`, `publish`. Until `publish` returns nothing stands under the bag's name;
/// `abandon` takes back what was begun.
class Destination {
  public:
    virtual ~Destination() = default;

    /// As the user named it.
    virtual std::string name() const = 0;
    /// Where the bag stands once it is published.
    virtual std::string published_path() const = 0;
    /// What is about to come.
    struct Need {
        std::uint64_t bytes = 0;
        std::uint64_t files = 0;
        std::uint64_t largest_file = 0;
        std::uint64_t longest_name = 0;  ///< bytes, of a file in the bag
    };
    /// Looks without writing: Error when the place is missing, something of the bag's name stands
    /// there (`exists`) or the need cannot fit (`no_space`).
    virtual void check(const Need& need) = 0;
    /// Makes room to write in, clearing what an interrupted run of ours left behind.
    virtual void prepare() = 0;
    /// Takes each item under its `name`, keeping `Item::modified` where it is set; passes over
    /// items without a name.
    virtual Sink& sink() = 0;
    /// One small file, with its time. Also while the river runs, from any thread.
    virtual void put(std::string_view name, std::string_view content, Timestamp modified) = 0;
    /// A folder without a file in it. Kinds of destinations that know no folders leave it out.
    virtual void put_folder(std::string_view) {}
    /// Takes back a file that was written under this name, so that another can come in its place.
    /// Error `not_supported` where that is not possible.
    virtual void withdraw(std::string_view name);
    /// Gives back one small file written before, not necessarily from the medium. Any thread.
    virtual std::string give_back(std::string_view name) = 0;
    /// Returns when everything is on the medium.
    virtual void sync() = 0;
    /// Reads everything written back past the cache and hands it to the sinks under the same names;
    /// item ids count from 0 in the order of `written()`.
    virtual Result read_back(std::span<Sink* const> sinks, const Options& options) = 0;
    /// Proves everything written by the medium's own checksums against those of the bytes that were
    /// handed over: the names of those that differ. Nothing: this kind has none, or is told to
    /// read back.
    virtual std::optional<std::vector<std::string>> compare_checksums() { return std::nullopt; }

    /// Whether files written here can be read from `published_path` as they are, so that a slower
    /// destination may go on from there.
    virtual bool can_supply() const { return false; }
    /// Another copy will be there to go on from: rather than keep the river waiting, leave out what
    /// does not fit into memory and take it by `catch_up`. Before `prepare`.
    virtual void allow_lag() {}
    /// Whether anything was left out.
    virtual bool lags() const { return false; }
    /// Takes what was left out from a bag that is published.
    virtual void catch_up(io::FileSystem&, const io::Path&, const Options&) {}

    struct Written {
        std::string name;
        std::uint64_t bytes = 0;
    };
    virtual const std::vector<Written>& written() const = 0;
    /// Gives the whole its name in one step, replacing nothing (Error `exists`), and makes that
    /// last.
    virtual void publish() = 0;
    /// Takes back what was begun; never throws, never touches anything published.
    virtual void abandon() noexcept = 0;
};

/// A bag folder below `folder`. Staged in `folder/.NAME.glassine-staging`.
std::unique_ptr<Destination> folder_destination(io::FileSystem& files, io::Path folder,
                                                std::string bag_name);

/// The name of the staging folder for a bag.
std::string staging_name(std::string_view bag_name);
/// Whether a name is one that `staging_name` gives.
bool is_staging_name(std::string_view name);

/// Clears what an interrupted run left in `folder` for this bag. Throws Error `busy` when another
/// run is at work there, `exists` when what stands in the place is not ours.
void clear_staging(io::FileSystem& files, const io::Path& folder, std::string_view bag_name);

}  // namespace glassine::flow

#pragma once

#include "glassine/flow/distributor.h"
#include "glassine/flow/sink.h"

#include <cstddef>
#include <cstdint>
#include <functional>
#include <span>
#include <stop_token>
#include <string>
#include <vector>

namespace glassine::flow {

/// How far a run is. Bytes are those read, not those of the sinks.
struct Progress {
    std::uint64_t bytes = 0;
    std::uint64_t total_bytes = 0;
    std::uint64_t files = 0;
    std::uint64_t total_files = 0;
    double rate = 0;          ///< bytes a second over the last seconds
    double seconds_left = 0;  ///< by that rate; 0 when not known yet
};

/// A range that the medium would not give, as it is met.
struct ReadError {
    std::size_t item = 0;  ///< `Item::id`
    std::string name;
    ByteRange range;
    std::string why;
};

/// Hears of a run while it goes on. Called only on the thread that called `River::run`.
class Observer {
  public:
    virtual ~Observer() = default;
    virtual void progress(const Progress&) {}
    virtual void read_error(const ReadError&) {}
};

/// What is to be read: `count` items, each made when its turn comes, so that a million need no
/// memory here.
struct Reading {
    std::size_t count = 0;
    std::function<Item(std::size_t index)> item;
    std::uint64_t total_bytes = 0;  ///< for progress
};
/// All of a list, in its order; the list must outlive the run.
Reading reading_of(std::span<const Item> items);

struct Options {
    io::Cache cache = io::Cache::use;
    /// Read in the order in which the files lie on the volume where it rotates (and tells), several
    /// at once only where it does not. False: exactly in the order given, one at a time.
    bool arrange = true;
    unsigned attempts = 3;      ///< for each sector that cannot be read
    std::size_t sector = 4096;  ///< bytes: the unit in which damage is fenced in
    Resources resources;
    std::stop_token stop;
    Observer* observer = nullptr;
    /// Where one item's outcome goes, from reader threads, one call at a time, when it was read
    /// (not when the sinks are done with it). May be empty.
    std::function<void(const Item&, const Outcome&)> on_item;
};

struct Result {
    bool cancelled = false;
    std::uint64_t bytes = 0;
    std::uint64_t files = 0;
    double seconds = 0;
    io::Bypass bypass = io::Bypass::direct;  ///< with `Cache::bypass`: the weakest of all files
    std::vector<SinkFailure> sink_failures;
};

/// Reads files once each and hands every block to every sink.
///
/// A file that cannot be read is an outcome, a range that cannot be read is a gap; the rest goes
/// on. Memory is bounded by `Resources`. Cancelling through `stop` takes effect within one block.
class River {
  public:
    explicit River(io::FileSystem& files) : files_(files) {}
    Result run(const Reading& reading, std::span<Sink* const> sinks, const Options& options);

  private:
    io::FileSystem& files_;
};

/// The order in which to read: indices of `reading`, by position on the volume where the file
/// system tells, else as given. Opens every file once.
std::vector<std::size_t> order_on_volume(io::FileSystem& files, const Reading& reading);

}  // namespace glassine::flow

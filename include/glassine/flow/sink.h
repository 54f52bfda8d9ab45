#pragma once

#include "glassine/base/error.h"
#include "glassine/io/file_system.h"

#include <cstddef>
#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// The byte river: every byte is read once and handed to everything that needs it.
namespace glassine::flow {

/// One file to be read.
struct Item {
    std::size_t id = 0;  ///< the caller's own number
    std::string path;    ///< where it is read from; not an io::Path, which holds ten times as much
    std::string name;    ///< what sinks call it, e.g. "data/print/0042.jpg"
    std::uint64_t size = 0;  ///< bytes expected; what is really read counts
    Timestamp modified;  ///< as listed; a different one while reading means the file is changing
    bool check_unchanged =
        false;  ///< compare size and time with what was listed, before and after reading
};

struct ByteRange {
    std::uint64_t offset = 0;
    std::uint64_t length = 0;
    bool operator==(const ByteRange&) const = default;
};

enum class Status {
    whole,       ///< read from the first byte to the last
    gaps,        ///< read, but for ranges that the medium would not give
    unreadable,  ///< could not be opened, or nothing of it could be read
    vanished,    ///< not there any more
    changed,     ///< size or time moved while it was read
    cancelled,   ///< not read to its end because the run was stopped
};

/// How the reading of one item ended.
struct Outcome {
    Status status = Status::whole;
    std::uint64_t bytes = 0;      ///< handed to the sinks
    std::vector<ByteRange> gaps;  ///< ascending, not touching
    std::string why;              ///< empty when whole; else one sentence for a person
    double seconds = 0;           ///< spent reading this file
    std::uint32_t retries = 0;    ///< reads that were tried again
};

/// What one sink does with one file. Calls come one at a time, in the order of the file's bytes,
/// from changing threads. After `finish`, or after a call that threw, nothing more comes.
class Stream {
  public:
    virtual ~Stream() = default;
    /// The next bytes. The memory belongs to the river and is gone after the call.
    virtual void block(std::uint64_t offset, std::span<const std::byte> bytes) = 0;
    /// Bytes that could not be read stand here; the next block begins behind them.
    virtual void gap(std::uint64_t offset, std::uint64_t length);
    /// The end of the file, however it came. Also called for items of which no byte could be read.
    virtual void finish(const Outcome& outcome) = 0;
};

/// Something that needs bytes: digests, a writer, the recovery encoder, a decoder.
///
/// An `Error` thrown by `open` or by a stream fails the whole sink: it gets nothing more, the other
/// sinks go on, and the run's result says which sink failed and why.
class Sink {
  public:
    virtual ~Sink() = default;
    /// Begins a file; nullptr when the sink does not want it. With `one_at_a_time() == false`
    /// called from several threads at once.
    virtual std::unique_ptr<Stream> open(const Item& item) = 0;
    /// True for sinks that must finish a file before the next begins (an archive writer): then
    /// files come in reading order.
    virtual bool one_at_a_time() const { return false; }
};

}  // namespace glassine::flow

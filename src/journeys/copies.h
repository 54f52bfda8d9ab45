#pragma once

#include "glassine/digest/digest.h"
#include "glassine/flow/destination.h"
#include "glassine/journeys/context.h"

#include <cstddef>
#include <memory>
#include <mutex>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

namespace glassine::journeys {

/// The digests of everything a copy must hold, by name.
using Expected = std::unordered_map<std::string, digest::Value>;

/// The copies of one bag while they are made. One that fails is put aside with its reason, and the
/// others go on.
class Copies {
  public:
    struct Made {
        std::unique_ptr<flow::Destination> destination;
        std::uint64_t device = 0;  ///< copies on one volume are proven one after the other
        std::optional<Error> failure;
        bool published = false;
        std::string how;  ///< how it was proven, in words
    };

    void add(std::unique_ptr<flow::Destination> destination, std::uint64_t device);
    std::size_t size() const { return copies_.size(); }
    const Made& operator[](std::size_t i) const { return copies_[i]; }

    /// Looks at every place before the first byte. Throws what the first one says.
    void check(const flow::Destination::Need& need);
    /// `moment`: the time that files made on the way get, the same in every copy.
    void prepare(Timestamp moment);
    std::vector<flow::Sink*> sinks();
    void note_failures(std::span<const flow::SinkFailure> failures);
    bool any_alive() const;

    /// The same small file into every copy; may be called while the river runs, from any thread.
    void put(std::string_view name, std::string_view content);

    /// One sink for all copies, for whoever calls sinks directly: a copy that fails is put aside,
    /// the others go on. Takes files one at a time; lives as long as this object.
    flow::Sink& all();
    /// A small file as the first good copy has it. Throws Error when none has.
    std::string give_back(std::string_view name);

    /// Brings every copy to its medium, reads it back, compares it and publishes it: volumes side
    /// by side. One that lags goes on from a published copy when the others are done. A file that
    /// reads back differently fails its copy; its name is added to `differing`.
    void seal(const Context& context, const Expected& expected,
              std::vector<std::string>& differing);
    /// Takes back what is not published.
    void abandon();

  private:
    class Broadcast;
    class Broadcasting;
    void fail(Made& copy, const Error& error);
    /// Copies on one volume are read back one after another.
    void seal_volume(std::span<Made* const> copies, const Context& context,
                     const Expected& expected, std::vector<std::string>& differing);
    void bring_to_medium(Made& copy, const Context& context);
    void seal_one(Made& copy, const Context& context, const Expected& expected,
                  std::vector<std::string>& differing);
    void catch_up(Made& copy, const Context& context);
    void prove(Made& copy, const Context& context, const Expected& expected,
               std::vector<std::string>& differing);
    void read_back(Made& copy, const Context& context, const Expected& expected,
                   std::vector<std::string>& differing);

    std::vector<Made> copies_;
    std::mutex mutex_;
    std::unique_ptr<flow::Sink> all_;
    Timestamp moment_;
};

}  // namespace glassine::journeys

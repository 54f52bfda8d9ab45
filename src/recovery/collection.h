#pragma once

#include "glassine/recovery/recovery_set.h"
#include "recovery/packet.h"
#include "recovery/scanner.h"

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::recovery {

/// What has been found of one recovery file, possibly in several copies of it.
struct Collected {
    Identity identity;
    std::uint64_t votes = 0;  ///< good packets of this identity, counted with repetitions
    std::uint64_t own_index_packets = 0;
    std::uint64_t own_repair_packets = 0;
    std::map<std::uint32_t, std::string> table;
    std::map<std::uint32_t, std::string> checks;
    std::map<std::uint32_t, RepairPlace> repair;

    bool index_complete() const;
    /// The file table, if all of it was found and it is in order.
    std::optional<std::vector<Extent>> extents() const;
    Checks check_values() const;
    /// The whole index was found and is what the window's id says, as far as that can be told.
    bool consistent() const;
};

/// Sorts packets by the recovery file that they say they belong to. A file may also hold packets of
/// other files, or of an older sealing of the same bag (a foreign sector): those of the majority
/// are the file's own.
class Collection {
  public:
    /// `name`: of the recovery file; packets of a file with another name are passed over.
    explicit Collection(std::string name) : name_(std::move(name)) {}

    /// Returns the collected packets that this one belongs to; nullptr when it was passed over.
    Collected* take(const Packet& packet, std::uint16_t source);

    /// What was collected of this identity; nullptr when nothing was.
    Collected* of(const Identity& identity);
    /// The recovery file's own packets: those of the identity with the most packets whose index is
    /// usable.
    Collected* best();

  private:
    static constexpr std::size_t most_identities = 16;
    std::string name_;
    std::vector<Collected> found_;
};

}  // namespace glassine::recovery

#pragma once

#include "glassine/io/file_system.h"
#include "recovery/packet.h"

#include <cstdint>
#include <functional>
#include <span>
#include <vector>

namespace glassine::recovery {

/// A packet whose header is good.
struct Packet {
    Header header;
    std::uint64_t body_offset = 0;  ///< in the file
    std::span<const std::byte>
        body;  ///< gone after the call; empty when the body is damaged or cut off
    bool body_good = false;
    std::uint64_t file_size = 0;  ///< of the file that it was found in
};

/// Finds all packets of a recovery file, whatever has become of the rest: after anything that is no
/// packet, it goes on at the next place where one could begin. Ranges that cannot be read count as
/// zeros. `visit` returns false to stop.
void scan_packets(io::InputFile& file, const std::function<bool(const Packet&)>& visit);

/// The same over bytes in memory.
void scan_packets(std::span<const std::byte> bytes,
                  const std::function<bool(const Packet&)>& visit);

}  // namespace glassine::recovery

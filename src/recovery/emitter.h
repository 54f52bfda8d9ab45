#pragma once

#include "glassine/recovery/rebuilder.h"
#include "recovery/window_rebuild.h"

#include <cstdint>
#include <set>
#include <string>
#include <vector>

namespace glassine::recovery {

/// Hands healed files on, segment by segment as the windows come.
class Emitter {
  public:
    Emitter(Copies& copies, HealedFiles& receiver) : copies_(copies), receiver_(receiver) {}

    /// The part of a file that lies in this window. Segments of a file come in order, files one
    /// after the other.
    void segment(const FileDamage& damage, const Window& window, const Extent& extent,
                 WindowRebuild& rebuild);
    /// Ends the last file.
    void finish();

  private:
    bool begin(const FileDamage& damage);
    bool emit_block(const Window& window, std::uint32_t block, WindowRebuild& rebuild);
    void tell_change(std::uint64_t offset, std::span<const std::byte> right);
    /// Copies what no window covers: nothing is known of it but that it was not found damaged.
    bool copy_until(std::uint64_t end);
    void fail(const std::string& why);

    Copies& copies_;
    HealedFiles& receiver_;
    const FileDamage* damage_ = nullptr;  ///< of the file being handed on
    std::set<std::string> failed_;
    Healed healed_;
    std::uint64_t position_ = 0;
    std::vector<std::byte> buffer_;
    std::vector<std::byte> old_;
};

}  // namespace glassine::recovery

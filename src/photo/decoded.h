#pragma once

#include "glassine/photo/picture.h"
#include "photo/raster.h"

#include <cstdint>
#include <optional>
#include <string>

namespace glassine::photo {

/// What decoding a picture showed, whatever its format.
struct Decoded {
    Verdict verdict = Verdict::not_checkable;
    std::string why;
    std::optional<std::uint64_t> broken_offset;
    std::optional<std::uint32_t> lost_from_line;
    bool trailing_data = false;
    std::uint32_t width = 0;
    std::uint32_t height = 0;
    Raster thumbnail;  ///< not turned; empty when not wished for or no row came

    bool is_broken() const { return verdict == Verdict::broken; }
    /// The first damage stays.
    void breaks(std::string reason, std::optional<std::uint64_t> offset = {},
                std::optional<std::uint32_t> line = {}) {
        if (is_broken()) return;
        verdict = Verdict::broken;
        why = std::move(reason);
        broken_offset = offset;
        lost_from_line = line;
    }
};

}  // namespace glassine::photo

#pragma once

#include "photo/bytes.h"

#include <cstdint>
#include <optional>
#include <string>

namespace glassine::photo {

struct BoxProblem {
    std::string why;
    std::uint64_t offset = 0;
};

/// Do the boxes of an ISO base media file (ISO/IEC 14496-12, from memory) tile it without gap up to
/// its last byte, and do the chunks (`stco`, `co64`) and items (`iloc`) that it lists lie inside?
/// Nothing when all is well.
std::optional<BoxProblem> check_boxes(Bytes file);

}  // namespace glassine::photo

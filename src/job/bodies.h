#pragma once

#include "evidence.h"
#include "glassine/job/accounting.h"

#include <cstddef>
#include <span>
#include <string>
#include <vector>

namespace glassine::job {

/// Gives every frame its body (`Frame::body`) and makes the list of bodies. Frames that know only a
/// model belong to the one body of that model with a serial, if there is exactly one.
std::vector<Body> assign_bodies(std::span<Frame> frames, std::span<const Evidence> faces,
                                std::span<const Observed> observed);

/// Of body `body`, the indices of frames by capture time, then by number; frames without a time
/// last.
std::vector<std::size_t> frames_of_body(std::span<const Frame> frames, std::size_t body);

}  // namespace glassine::job

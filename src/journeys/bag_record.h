#pragma once

#include "glassine/journeys/context.h"
#include "glassine/shelf/register.h"

#include <string>

namespace glassine::journeys {

/// What a bag's tag files say of it, as the register keeps it: whose job, the payload with its
/// digests, the rejected raws that something sealed stands for. Reads tag files only. `volume` and
/// `path` are left empty.
///
/// A manifest or frames.csv that is not what the tag manifest says is left out: the register lists
/// only contents that the seal vouches for. In a bag without a SHA-512 tag manifest the SHA-512 of
/// its strongest tag manifest, or else payload manifest, stands in for the seal; the seal is empty
/// when there is no manifest at all. Throws Error when the folder cannot be listed.
shelf::BagRecord bag_record(const Context& context, const io::Path& bag);

}  // namespace glassine::journeys

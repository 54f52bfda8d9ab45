#pragma once

#include "glassine/shelf/register.h"

#include <optional>
#include <span>
#include <string_view>

namespace glassine::shelf {

/// What an event of that type says about the seals it names.
SealWitness::Rank seal_rank(std::string_view event_type);

/// Whether the seal is one that the bag was given; nothing when no event gives or carries a seal.
std::optional<bool> is_accepted(std::span<const SealWitness> witnesses, std::string_view seal);

}  // namespace glassine::shelf

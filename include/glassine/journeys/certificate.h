#pragma once

#include "glassine/journeys/closeout.h"

#include <string>

namespace glassine::journeys {

/// The page for the job's paper file; empty when nothing was sealed.
std::string certificate(const Context& context, const CloseoutRequest& request,
                        const report::CloseoutResult& result);

}  // namespace glassine::journeys

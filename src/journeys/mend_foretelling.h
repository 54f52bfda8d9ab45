#pragma once

#include "glassine/report/results.h"
#include "journeys/mend_look.h"

namespace glassine::journeys {

/// What `mend` would heal and what it would leave, without writing anything: fills in `healed` and
/// `beyond_repair`. `look` has found something wrong.
void foretell(const Context& context, const MendPlace& place, MendLook& look,
              report::MendResult& result);

}  // namespace glassine::journeys

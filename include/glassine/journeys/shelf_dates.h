#pragma once

#include "glassine/journeys/context.h"
#include "glassine/report/shelf_results.h"

#include <optional>
#include <string>

namespace glassine::journeys {

struct ShelfDatesRequest {
    std::string job;  ///< a bag's name, a job number, or words that only one job answers to
    std::optional<Date> promised_until;  ///< to the client; nothing: stays as it is
    std::optional<Date> keep_until;      ///< by the studio; nothing: stays as it is
};

/// Gives a job that was sealed already dates of its own: until when the client was told that the
/// pictures are kept, and until when the studio means to keep them. The last word holds. It is
/// recorded as a policy assignment in the register and in the own log of every connected volume
/// (`not-recorded` when none is connected). The bag itself stays as it was sealed.
///
/// Error `usage` when no date is given or one comes before the shoot, `not_found` when there is no
/// register, or when no job or more than one answers.
report::ShelfDatesResult shelf_dates(const Context& context, const ShelfDatesRequest& request);

}  // namespace glassine::journeys

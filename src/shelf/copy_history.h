#pragma once

#include "glassine/base/time.h"
#include "glassine/shelf/event.h"

#include <optional>
#include <span>
#include <string>

namespace glassine::shelf {

/// An event about one copy, as far as it decides how the copy stands.
struct CopyEvent {
    Timestamp time;
    std::string type;
    Outcome outcome = Outcome::none;
    std::string seal;  ///< empty: the event names none
    std::string note;  ///< what went wrong
};

/// How a copy stands after its events.
struct CopyHistory {
    std::optional<Timestamp> made;
    std::optional<Timestamp> proven;
    std::optional<Timestamp> checked;
    std::optional<Timestamp> first_error;
    std::optional<Timestamp> last_error;
    bool damaged = false;
    bool dropped = false;
    std::string trouble;
};

/// Whether an event of that type changes how a copy stands.
bool decides_copy(std::string_view event_type);
/// Whether such an event shows that the copy existed.
bool shows_copy(std::string_view event_type, Outcome outcome);

/// Plays the events in order. Success counts only for the seal it names; failure counts for
/// whatever stands there: better one audit too many than damage overlooked.
CopyHistory replay(std::span<const CopyEvent> events, std::string_view seal);

}  // namespace glassine::shelf

#include "shelf/copy_history.h"

namespace glassine::shelf {

namespace {

namespace t = event_type;

bool makes_copy(std::string_view type) {
    return type == t::ingestion || type == t::replication || type == t::refreshment ||
           type == t::accession;
}

bool drops_copy(std::string_view type) {
    return type == t::deletion || type == t::deaccession;
}

bool checks_copy(std::string_view type) {
    return type == t::fixity_check || type == t::validation;
}

void play_made(CopyHistory& history, const CopyEvent& event) {
    if (history.dropped) history = {};
    if (!history.made) history.made = event.time;
}

void play_failure(CopyHistory& history, const CopyEvent& event) {
    history.checked = event.time;
    history.trouble = event.note;
    // Found again without having been healed in between is no second error.
    if (history.damaged) return;
    history.damaged = true;
    history.last_error = event.time;
    if (!history.first_error) history.first_error = event.time;
}

void play_check(CopyHistory& history, const CopyEvent& event, std::string_view seal) {
    if (event.outcome == Outcome::failure) return play_failure(history, event);
    if (event.seal != seal) return;
    history.checked = event.time;
    // Structure alone, or a part of the files, proves nothing.
    if (event.type != t::fixity_check || event.outcome != Outcome::success) return;
    history.proven = event.time;
    history.damaged = false;
    history.trouble.clear();
}

}  // namespace

bool decides_copy(std::string_view type) {
    return makes_copy(type) || drops_copy(type) || checks_copy(type);
}

bool shows_copy(std::string_view type, Outcome outcome) {
    return outcome == Outcome::success && (makes_copy(type) || type == t::fixity_check);
}

CopyHistory replay(std::span<const CopyEvent> events, std::string_view seal) {
    CopyHistory history;
    for (const CopyEvent& event : events) {
        if (checks_copy(event.type)) {
            play_check(history, event, seal);
        } else if (event.outcome == Outcome::success &&
                   (event.seal.empty() || event.seal == seal)) {
            if (makes_copy(event.type)) play_made(history, event);
            if (drops_copy(event.type)) history.dropped = true;
        }
    }
    return history;
}

}  // namespace glassine::shelf

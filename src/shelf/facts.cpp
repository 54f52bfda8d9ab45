#include "glassine/shelf/facts.h"

#include <algorithm>

namespace glassine::shelf {

std::string_view word(CopyState state) {
    switch (state) {
        case CopyState::unproven:
            return "unproven";
        case CopyState::whole:
            return "whole";
        case CopyState::damaged:
            return "damaged";
        case CopyState::replaced:
            return "replaced";
        case CopyState::missing:
            return "missing";
        case CopyState::retired:
            return "retired";
        case CopyState::gone:
            break;
    }
    return "gone";
}

const std::string& VolumeFacts::name() const {
    return identity.label.empty() ? identity.id : identity.label;
}

const VolumeFacts* Facts::volume(std::string_view id) const {
    const auto place = std::lower_bound(
        volumes.begin(), volumes.end(), id,
        [](const VolumeFacts& volume, std::string_view key) { return volume.identity.id < key; });
    return place != volumes.end() && place->identity.id == id ? &*place : nullptr;
}

}  // namespace glassine::shelf

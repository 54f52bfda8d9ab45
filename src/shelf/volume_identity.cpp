#include "glassine/base/text.h"
#include "glassine/shelf/event.h"
#include "glassine/shelf/volume.h"

#include <nlohmann/json.hpp>

namespace glassine::shelf {

namespace {

using Json = nlohmann::ordered_json;

constexpr int format_version = 1;

struct TextMember {
    const char* key;
    std::string VolumeIdentity::*member;
};
constexpr TextMember text_members[] = {
    {"label", &VolumeIdentity::label},       {"place", &VolumeIdentity::place},
    {"model", &VolumeIdentity::model},       {"serial", &VolumeIdentity::serial},
    {"purchase", &VolumeIdentity::purchase}, {"file_system_id", &VolumeIdentity::file_system_id},
};

/// A member that is text, or not there; false for anything else.
bool take(const Json& object, const char* key, std::string& into) {
    const auto member = object.find(key);
    if (member == object.end()) return true;
    if (!member->is_string()) return false;
    into = member->get<std::string>();
    return true;
}

std::string_view take_dates(const Json& object, VolumeIdentity& identity) {
    std::string day;
    std::string moment;
    if (!take(object, "in_service", day) || !take(object, "written", moment)) {
        return "a date is not text";
    }
    if (!day.empty()) {
        identity.in_service = parse_date(day);
        if (!identity.in_service) return "in_service is no date";
    }
    const auto written = parse_event_time(moment);
    if (!written) return "written is no RFC 3339 time";
    identity.written = *written;
    return {};
}

std::string_view read(const Json& object, VolumeIdentity& identity) {
    if (!object.is_object()) return "it is not a JSON object";
    const auto version = object.find("glassine_volume");
    if (version == object.end() || !version->is_number_integer()) {
        return "it does not say glassine_volume";
    }
    if (*version > format_version) return "a newer version of this program wrote it";
    if (!take(object, "id", identity.id) || identity.id.empty()) return "it has no id";
    std::string kind;
    if (!take(object, "kind", kind) || !volume_kind(kind)) return "the kind is not known";
    identity.kind = *volume_kind(kind);
    for (const auto& [key, member] : text_members) {
        if (!take(object, key, identity.*member)) return "a member is not text";
    }
    const auto capacity = object.find("capacity");
    if (capacity != object.end()) {
        if (!capacity->is_number_unsigned()) return "the capacity is not a number of bytes";
        identity.capacity = capacity->get<std::uint64_t>();
    }
    return take_dates(object, identity);
}

}  // namespace

std::string_view word(VolumeKind kind) {
    switch (kind) {
        case VolumeKind::server:
            return "server";
        case VolumeKind::offsite:
            return "offsite";
        case VolumeKind::drive:
            break;
    }
    return "drive";
}

std::optional<VolumeKind> volume_kind(std::string_view name) {
    for (const VolumeKind kind : {VolumeKind::drive, VolumeKind::server, VolumeKind::offsite}) {
        if (word(kind) == name) return kind;
    }
    return std::nullopt;
}

std::string to_json(const VolumeIdentity& identity) {
    Json json{{"glassine_volume", format_version}, {"id", identity.id}};
    json["kind"] = word(identity.kind);
    for (const auto& [key, member] : text_members) {
        if (!(identity.*member).empty()) json[key] = identity.*member;
    }
    if (identity.in_service) json["in_service"] = iso_date(*identity.in_service);
    if (identity.capacity != 0) json["capacity"] = identity.capacity;
    json["written"] = event_time(identity.written);
    return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

std::optional<VolumeIdentity> parse_identity(std::string_view text, std::string* why) {
    VolumeIdentity identity;
    const Json json = Json::parse(text, nullptr, false);
    const std::string_view problem = json.is_discarded() ? "it is not JSON" : read(json, identity);
    if (problem.empty()) return identity;
    if (why) *why = problem;
    return std::nullopt;
}

}  // namespace glassine::shelf

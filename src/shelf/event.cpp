#include "glassine/shelf/event.h"

#include "glassine/base/text.h"
#include "glassine/base/version.h"

#include <array>
#include <random>
#include <utility>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace glassine::shelf {

namespace {

using Json = nlohmann::ordered_json;

Json links_to_json(const std::vector<Link>& links) {
    Json array = Json::array();
    for (const Link& link : links) {
        Json entry{{"type", link.type}, {"value", link.value}};
        if (!link.role.empty()) entry["role"] = link.role;
        array.push_back(std::move(entry));
    }
    return array;
}

/// A string member; empty when it is missing. False when it is there and no string.
bool take_string(const Json& object, const char* key, std::string& into) {
    const auto member = object.find(key);
    if (member == object.end() || member->is_null()) return true;
    if (!member->is_string()) return false;
    into = member->get<std::string>();
    return true;
}

bool take_links(const Json& object, const char* key, std::vector<Link>& into) {
    const auto member = object.find(key);
    if (member == object.end()) return true;
    if (!member->is_array()) return false;
    for (const Json& entry : *member) {
        Link link;
        if (!entry.is_object() || !take_string(entry, "type", link.type) ||
            !take_string(entry, "value", link.value) || !take_string(entry, "role", link.role)) {
            return false;
        }
        into.push_back(std::move(link));
    }
    return true;
}

bool take_notes(const Json& object, std::vector<std::string>& into) {
    const auto member = object.find("outcome_detail");
    if (member == object.end()) return true;
    if (!member->is_array()) return false;
    for (const Json& entry : *member) {
        if (!entry.is_string()) return false;
        into.push_back(entry.get<std::string>());
    }
    return true;
}

bool take_figures(const Json& object, std::map<std::string, std::string>& into) {
    const auto member = object.find("detail_extension");
    if (member == object.end()) return true;
    if (!member->is_object()) return false;
    for (const auto& [key, value] : member->items()) {
        if (!value.is_string()) return false;
        into[key] = value.get<std::string>();
    }
    return true;
}

bool take_outcome(const Json& object, Outcome& into) {
    std::string text;
    if (!take_string(object, "outcome", text)) return false;
    for (const Outcome known :
         {Outcome::none, Outcome::success, Outcome::partial, Outcome::failure}) {
        if (text == word(known)) {
            into = known;
            return true;
        }
    }
    if (text != "warning") return false;
    // The published outcome list has "warning" where this program says "partial success".
    into = Outcome::partial;
    return true;
}

bool is_uuid(std::string_view text) {
    if (text.size() != 36) return false;
    for (std::size_t i = 0; i < text.size(); ++i) {
        const bool hyphen = i == 8 || i == 13 || i == 18 || i == 23;
        const char c = text[i];
        const bool digit = (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f');
        if (hyphen ? c != '-' : !digit) return false;
    }
    return true;
}

constexpr std::int64_t microsecond = 1'000;
constexpr std::int64_t second = 1'000'000'000;

/// What is left of a moment after its last whole `unit`, never negative.
std::int64_t rest(Timestamp moment, std::int64_t unit) {
    const std::int64_t left = moment.nanoseconds % unit;
    return left < 0 ? left + unit : left;
}

Timestamp cut(Timestamp moment) {
    return {moment.nanoseconds - rest(moment, microsecond)};
}

/// Fills the event; returns what is wrong with the object, or nothing.
std::string_view read_event(const Json& object, Event& event) {
    if (!object.is_object()) return "not a JSON object";
    const auto id = object.find("id");
    if (id == object.end() || !id->is_object() || !take_string(*id, "value", event.id)) {
        return "no id";
    }
    event.id = text::ascii_lower(event.id);
    if (!is_uuid(event.id)) return "the id is not a UUID";
    if (!take_string(object, "type", event.type) || event.type.empty()) return "no type";
    std::string time;
    if (!take_string(object, "time", time)) return "no time";
    const auto moment = parse_event_time(time);
    if (!moment) return "the time is not RFC 3339";
    event.time = *moment;
    if (!take_string(object, "detail", event.detail)) return "the detail is not text";
    if (!take_figures(object, event.detail_extension)) return "detail_extension is not understood";
    if (!take_outcome(object, event.outcome)) return "the outcome is not known";
    if (!take_notes(object, event.outcome_detail)) return "outcome_detail is not a list of texts";
    if (!take_links(object, "agents", event.agents)) return "agents is not a list of links";
    if (!take_links(object, "objects", event.objects)) return "objects is not a list of links";
    return {};
}

}  // namespace

std::string_view word(Outcome outcome) {
    switch (outcome) {
        case Outcome::success:
            return "success";
        case Outcome::partial:
            return "partial success";
        case Outcome::failure:
            return "failure";
        case Outcome::none:
            break;
    }
    return {};
}

std::string_view Event::object(std::string_view object_type) const {
    for (const Link& link : objects) {
        if (link.type == object_type) return link.value;
    }
    return {};
}

Event& Event::with_object(std::string_view object_type, std::string value, std::string_view role) {
    objects.push_back({std::string(object_type), std::move(value), std::string(role)});
    return *this;
}

Event& Event::with_figure(std::string_view key, std::string value) {
    detail_extension[std::string(key)] = std::move(value);
    return *this;
}

std::string_view Event::figure(std::string_view key) const {
    const auto found = detail_extension.find(std::string(key));
    return found == detail_extension.end() ? std::string_view{} : std::string_view(found->second);
}

Event& Event::with_agent(std::string_view agent_type, std::string value, std::string_view role) {
    agents.push_back({std::string(agent_type), std::move(value), std::string(role)});
    return *this;
}

std::string event_time(Timestamp moment) {
    std::string text = rfc3339(moment);
    const std::int64_t fraction = rest(moment, second) / microsecond;
    if (fraction != 0) text.insert(text.size() - 1, fmt::format(".{:06}", fraction));
    return text;
}

std::optional<Timestamp> parse_event_time(std::string_view text) {
    // 64 bits of nanoseconds reach from 1677 to 2262; no event lies outside.
    if (text.size() < 4 || text.substr(0, 4) < "1700" || text.substr(0, 4) > "2250") return {};
    const auto moment = parse_rfc3339(text);
    return moment ? std::optional(cut(*moment)) : std::nullopt;
}

std::string random_uuid() {
    // Opening the device costs more than all the rest.
    static thread_local std::random_device random;
    std::array<std::byte, 16> bytes{};
    for (std::size_t i = 0; i < bytes.size(); i += 4) {
        const unsigned value = random();
        for (std::size_t k = 0; k < 4; ++k) {
            bytes[i + k] = static_cast<std::byte>((value >> (8 * k)) & 0xff);
        }
    }
    // RFC 4122 §4.4: version 4 in the high four bits of octet 6, the variant in the high two of
    // octet 8.
    bytes[6] = (bytes[6] & std::byte{0x0f}) | std::byte{0x40};
    bytes[8] = (bytes[8] & std::byte{0x3f}) | std::byte{0x80};
    const std::string hex = text::hex(bytes);
    return fmt::format("{}-{}-{}-{}-{}", hex.substr(0, 8), hex.substr(8, 4), hex.substr(12, 4),
                       hex.substr(16, 4), hex.substr(20));
}

Event new_event(std::string_view type, Timestamp time, Outcome outcome, std::string detail) {
    Event event;
    event.id = random_uuid();
    event.type = type;
    event.time = cut(time);
    event.outcome = outcome;
    event.detail = std::move(detail);
    event.with_agent("software", fmt::format("glassine {}", version()), "executing program");
    return event;
}

std::string to_json_line(const Event& event) {
    Json json{{"id", {{"type", "UUID"}, {"value", event.id}}},
              {"type", event.type},
              {"time", event_time(event.time)}};
    if (!event.detail.empty()) json["detail"] = event.detail;
    if (!event.detail_extension.empty()) json["detail_extension"] = event.detail_extension;
    if (event.outcome != Outcome::none) json["outcome"] = word(event.outcome);
    if (!event.outcome_detail.empty()) json["outcome_detail"] = event.outcome_detail;
    if (!event.agents.empty()) json["agents"] = links_to_json(event.agents);
    if (!event.objects.empty()) json["objects"] = links_to_json(event.objects);
    return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

std::string to_json_lines(std::span<const Event> events) {
    std::string lines;
    for (const Event& event : events) {
        lines += to_json_line(event);
        lines += '\n';
    }
    return lines;
}

std::optional<Event> parse_event(std::string_view line, std::string* why) {
    Event event;
    std::string_view problem;
    const Json json = Json::parse(line, nullptr, false);
    problem = json.is_discarded() ? "not JSON" : read_event(json, event);
    if (problem.empty()) {
        return event;
    }
    if (why) *why = problem;
    return std::nullopt;
}

EventLines parse_event_lines(std::string_view content) {
    EventLines result;
    std::size_t number = 0;
    while (!content.empty()) {
        ++number;
        const std::size_t end = content.find('\n');
        const bool last = end == std::string_view::npos;
        std::string_view line = content.substr(0, end);
        content.remove_prefix(last ? content.size() : end + 1);
        if (line.ends_with('\r')) line.remove_suffix(1);
        if (text::trim(line).empty()) continue;
        std::string why;
        if (auto event = parse_event(line, &why)) {
            result.events.push_back(std::move(*event));
        } else if (last) {
            result.torn = true;
        } else {
            result.problems.push_back(fmt::format("line {}: {}", number, why));
        }
    }
    return result;
}

}  // namespace glassine::shelf

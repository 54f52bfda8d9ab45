#include "glassine/base/text.h"
#include "shelf/copy_history.h"
#include "shelf/register_inside.h"
#include "shelf/seals.h"

#include <algorithm>
#include <charconv>
#include <set>
#include <string>
#include <tuple>
#include <utility>

namespace glassine::shelf {

namespace {

/// The object of that type that the event is about: of several the outcome, or the first.
std::string_view subject(const Event& event, std::string_view type) {
    for (const Link& link : event.objects) {
        if (link.type == type && link.role == "outcome") return link.value;
    }
    return event.object(type);
}

std::vector<std::byte> uuid_bytes(const std::string& uuid) {
    std::string hex = uuid;
    std::erase(hex, '-');
    std::vector<std::byte> bytes;
    text::from_hex(hex, bytes);
    return bytes;
}

std::optional<std::string> or_null(std::string_view text) {
    return text.empty() ? std::nullopt : std::optional(std::string(text));
}

/// Whether it is about a copy that is packed into one file.
bool is_packed(const Event& event) {
    return !event.object(object_type::media_type).empty();
}

/// False if the event is known already.
bool insert(sql::Database& database, const Event& event) {
    const std::vector<std::byte> uuid = uuid_bytes(event.id);
    const auto bag = or_null(subject(event, object_type::bag));
    const auto seal = or_null(text::ascii_lower(subject(event, object_type::seal)));
    const auto volume = or_null(subject(event, object_type::volume));
    const std::string line = to_json_line(event);
    database.run(
        "INSERT OR IGNORE INTO events(uuid, time, type, outcome, bag, seal, volume, packed, line) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        sql::Blob(uuid), event.time, event.type, static_cast<int>(event.outcome), bag, seal, volume,
        is_packed(event), line);
    return database.changed() > 0;
}

/// Every seal that a good event names is a witness, the old one of an upgrade as well as the new.
void witness_seals(sql::Database& database, const Event& event) {
    const std::string_view bag = subject(event, object_type::bag);
    if (bag.empty() || event.outcome != Outcome::success) return;
    const std::string_view volume = subject(event, object_type::volume);
    const int rank = static_cast<int>(seal_rank(event.type));
    for (const Link& link : event.objects) {
        if (link.type != object_type::seal || link.value.empty()) continue;
        const std::string seal = text::ascii_lower(link.value);
        database.run(
            "INSERT INTO seals VALUES (?, ?, ?, ?, ?) ON CONFLICT(bag, seal, volume) DO UPDATE "
            "SET first = min(first, excluded.first), rank = max(rank, excluded.rank)",
            bag, seal, volume, event.time, rank);
    }
}

/// A good event about a copy shows that it existed, whether or not it is ever seen.
void know_copy(sql::Database& database, const Event& event) {
    const std::string_view bag = subject(event, object_type::bag);
    const std::string_view volume = subject(event, object_type::volume);
    const std::string seal = text::ascii_lower(subject(event, object_type::seal));
    if (bag.empty() || volume.empty() || seal.empty()) return;
    if (!shows_copy(event.type, event.outcome)) return;
    const std::int64_t bag_id = bag_row(database, bag, seal);
    copy_row(database, bag_id, volume_row(database, volume), is_packed(event));
}

void forget_progress(sql::Database& database, const Event& event) {
    if (event.type != event_type::fixity_check || event.outcome == Outcome::partial ||
        is_packed(event))
        return;
    const std::string_view bag = subject(event, object_type::bag);
    const std::string_view volume = subject(event, object_type::volume);
    for (const char* statement :
         {"DELETE FROM audit_progress WHERE bag_id IN (SELECT id FROM bags WHERE name = ?) AND "
          "volume_id = (SELECT id FROM volumes WHERE uuid = ?)",
          "DELETE FROM audited_files WHERE bag_id IN (SELECT id FROM bags WHERE name = ?) AND "
          "volume_id = (SELECT id FROM volumes WHERE uuid = ?)"}) {
        database.run(statement, bag, volume);
    }
}

/// The first note of the event, or what it says for people.
std::string note_of(const std::string& line) {
    const auto event = parse_event(line);
    if (!event) return {};
    return event->outcome_detail.empty() ? event->detail : event->outcome_detail.front();
}

std::vector<CopyEvent> copy_events(sql::Database& database, std::string_view bag,
                                   std::string_view volume, bool packed) {
    std::vector<CopyEvent> events;
    // Of two events of one moment the one recorded later came later: the order of the log.
    auto query = database.query(
        "SELECT time, type, outcome, seal, line FROM events WHERE bag = ? AND volume = ? AND "
        "packed = ? ORDER BY time, id",
        bag, volume, packed);
    while (query.next()) {
        if (!decides_copy(query.view(1))) continue;
        const auto outcome = static_cast<Outcome>(query.integer(2));
        std::string note = outcome == Outcome::failure ? note_of(query.text(4)) : std::string();
        events.push_back(
            {Timestamp{query.integer(0)}, query.text(1), outcome, query.text(3), std::move(note)});
    }
    return events;
}

std::vector<Event> events_from(sql::Query query) {
    std::vector<Event> events;
    while (query.next()) {
        if (auto event = parse_event(query.view(0))) events.push_back(std::move(*event));
    }
    return events;
}

template <typename Number>
Number number(std::string_view text) {
    Number value{};
    std::from_chars(text.data(), text.data() + text.size(), value);
    return value;
}

}  // namespace

void replay_copies(sql::Database& database, std::string_view bag_name, std::string_view volume,
                   bool packed) {
    const std::vector<CopyEvent> events = copy_events(database, bag_name, volume, packed);
    std::vector<std::pair<std::int64_t, std::string>> copies;
    {
        auto query = database.query(
            "SELECT copies.id, seal FROM bags JOIN copies ON bag_id = bags.id JOIN volumes ON "
            "volumes.id = volume_id WHERE name = ? AND uuid = ? AND packed = ?",
            bag_name, volume, packed);
        while (query.next())
            copies.emplace_back(query.integer(0), query.text(1));
    }
    for (const auto& [copy, seal] : copies) {
        const CopyHistory history = replay(events, seal);
        database.run(
            "UPDATE copies SET made = ?, proven = ?, checked = ?, first_error = ?, "
            "last_error = ?, damaged = ?, dropped = ?, trouble = ? WHERE id = ?",
            history.made, history.proven, history.checked, history.first_error, history.last_error,
            history.damaged, history.dropped, history.trouble, copy);
    }
}

std::size_t Register::record_events(std::span<const Event> events) {
    sql::Database& database = inside().database;
    sql::Transaction transaction(database);
    std::size_t news = 0;
    std::set<std::tuple<std::string, std::string, bool>> touched;
    for (const Event& event : events) {
        if (!insert(database, event)) continue;
        ++news;
        witness_seals(database, event);
        know_copy(database, event);
        forget_progress(database, event);
        const std::string_view bag = subject(event, object_type::bag);
        const std::string_view volume = subject(event, object_type::volume);
        if (!bag.empty() && !volume.empty() && decides_copy(event.type)) {
            touched.emplace(bag, volume, is_packed(event));
        }
    }
    for (const auto& [bag, volume, packed] : touched)
        replay_copies(database, bag, volume, packed);
    transaction.commit();
    return news;
}

std::vector<Event> Register::events_of_bag(std::string_view name) {
    return events_from(
        inside().database.query("SELECT line FROM events WHERE bag = ? ORDER BY time, id", name));
}

std::vector<Event> Register::events_of_volume(std::string_view id) {
    return events_from(
        inside().database.query("SELECT line FROM events WHERE volume = ? ORDER BY time, id", id));
}

std::vector<RatePoint> Register::rates(std::string_view volume) {
    std::vector<RatePoint> points;
    for (const Event& event : events_of_volume(volume)) {
        if (event.type != event_type::fixity_check) continue;
        const auto bytes = number<std::uint64_t>(event.figure(figure::bytes));
        const auto seconds = number<double>(event.figure(figure::seconds));
        if (bytes == 0 || !(seconds > 0)) continue;
        points.push_back(
            {std::string(subject(event, object_type::bag)), event.time, bytes, seconds});
    }
    return points;
}

}  // namespace glassine::shelf

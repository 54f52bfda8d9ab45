#include "shelf/bag_grouping.h"
#include "shelf/register_inside.h"

#include <algorithm>
#include <tuple>
#include <utility>

namespace glassine::shelf {

namespace {

std::optional<Date> day(const sql::Query& query, int column) {
    return parse_date(query.view(column));
}

VolumeFacts volume_from(const sql::Query& query) {
    VolumeFacts volume;
    VolumeIdentity& identity = volume.identity;
    identity.id = query.text(0);
    identity.label = query.text(1);
    identity.place = query.text(2);
    identity.kind = volume_kind(query.view(3)).value_or(VolumeKind::drive);
    identity.in_service = day(query, 4);
    identity.capacity = query.count(5);
    identity.file_system_id = query.text(6);
    identity.model = query.text(7);
    identity.serial = query.text(8);
    identity.purchase = query.text(9);
    identity.written = query.moment(10).value_or(Timestamp{});
    volume.root = query.text(11);
    volume.last_seen = query.moment(12);
    return volume;
}

void widen(std::optional<Timestamp>& first, std::optional<Timestamp>& last, Timestamp moment) {
    if (!first || moment < *first) first = moment;
    if (!last || *last < moment) last = moment;
}

/// Events about the volume itself: taken out of service, brought back, an error outside any bag.
void take_own_events(sql::Database& database, VolumeFacts& volume) {
    auto query = database.query(
        "SELECT time, type, outcome FROM events WHERE volume = ? AND bag IS NULL ORDER BY time, id",
        volume.identity.id);
    while (query.next()) {
        const Timestamp time{query.integer(0)};
        const std::string_view type = query.view(1);
        const auto outcome = static_cast<Outcome>(query.integer(2));
        if (outcome == Outcome::failure && type == event_type::fixity_check) {
            widen(volume.first_error, volume.last_error, time);
        }
        if (outcome != Outcome::success) continue;
        if (type == event_type::deaccession) volume.retired = time;
        if (type == event_type::accession) volume.retired.reset();
    }
}

void take_copy_errors(sql::Database& database, std::vector<VolumeFacts>& volumes) {
    auto query = database.query(
        "SELECT uuid, min(first_error), max(last_error) FROM copies JOIN volumes ON "
        "volumes.id = volume_id WHERE first_error IS NOT NULL GROUP BY uuid");
    while (query.next()) {
        for (VolumeFacts& volume : volumes) {
            if (volume.identity.id != query.view(0)) continue;
            widen(volume.first_error, volume.last_error, *query.moment(1));
            widen(volume.first_error, volume.last_error, *query.moment(2));
        }
    }
}

CopyState state_of(bool retired, bool present, bool damaged, bool dropped, bool proven) {
    if (dropped) return CopyState::gone;
    if (retired) return CopyState::retired;
    if (!present) return CopyState::missing;
    if (damaged) return CopyState::damaged;
    return proven ? CopyState::whole : CopyState::unproven;
}

BagRow bag_from(const sql::Query& query) {
    BagRow row;
    row.id = query.integer(0);
    BagFacts& bag = row.facts;
    bag.name = query.text(1);
    row.seal = query.text(2);
    bag.number = query.text(3);
    bag.job = bag.number.empty() ? bag.name : bag.number;
    bag.shoot_date = day(query, 4);
    bag.description = query.text(5);
    bag.sealed = day(query, 6);
    bag.promised_until = day(query, 7);
    bag.keep_until = day(query, 8);
    bag.payload_bytes = query.count(9);
    bag.payload_files = query.count(10);
    row.described = query.integer(11) != 0;
    return row;
}

std::vector<BagRow> load_bags(sql::Database& database) {
    std::vector<BagRow> rows;
    auto query = database.query(
        "SELECT id, name, seal, number, shoot_date, description, sealed, promised_until, "
        "keep_until, payload_bytes, payload_files, described FROM bags ORDER BY id");
    while (query.next())
        rows.push_back(bag_from(query));
    auto clients = database.query("SELECT bag_id, name FROM clients ORDER BY bag_id, position");
    std::size_t at = 0;
    while (clients.next()) {
        while (at < rows.size() && rows[at].id < clients.integer(0))
            ++at;
        if (at < rows.size()) rows[at].facts.clients.push_back(clients.text(1));
    }
    // In an order that does not depend on which was recorded first.
    std::sort(rows.begin(), rows.end(), [](const BagRow& a, const BagRow& b) {
        return std::tie(a.facts.name, a.seal) < std::tie(b.facts.name, b.seal);
    });
    return rows;
}

/// Dates that were set for a bag after it was sealed; the last word holds.
void take_assignments(sql::Database& database, std::vector<BagFacts>& bags) {
    auto query = database.query(
        "SELECT bag, line FROM events WHERE type = 'policy assignment' AND bag IS NOT NULL ORDER "
        "BY "
        "time, id");
    while (query.next()) {
        const auto event = parse_event(query.view(1));
        if (!event) continue;
        const auto promised = parse_date(event->figure(figure::promised_until));
        const auto keep = parse_date(event->figure(figure::keep_until));
        for (BagFacts& bag : bags) {
            if (bag.name != query.view(0)) continue;
            if (promised) bag.promised_until = promised;
            if (keep) bag.keep_until = keep;
        }
    }
}

}  // namespace

std::vector<VolumeFacts> load_volumes(sql::Database& database) {
    std::vector<VolumeFacts> volumes;
    auto query = database.query(
        "SELECT uuid, label, place, kind, in_service, capacity, file_system_id, model, serial, "
        "purchase, written, root, (SELECT max(time) FROM events WHERE volume = volumes.uuid) "
        "FROM volumes ORDER BY uuid");
    while (query.next())
        volumes.push_back(volume_from(query));
    for (VolumeFacts& volume : volumes)
        take_own_events(database, volume);
    take_copy_errors(database, volumes);
    return volumes;
}

std::vector<CopyRow> load_copies(sql::Database& database) {
    std::vector<CopyRow> rows;
    std::vector<std::string> retired;
    for (const VolumeFacts& volume : load_volumes(database)) {
        if (volume.retired) retired.push_back(volume.identity.id);
    }
    auto query = database.query(
        "SELECT bag_id, uuid, path, seal, made, proven, checked, first_error, last_error, trouble, "
        "present, damaged, dropped, packed FROM copies JOIN volumes ON volumes.id = volume_id JOIN "
        "bags ON bags.id = bag_id ORDER BY bag_id, uuid, packed");
    while (query.next()) {
        CopyRow row;
        row.bag_id = query.integer(0);
        CopyFacts& copy = row.facts;
        copy.volume = query.text(1);
        copy.path = query.text(2);
        copy.seal = query.text(3);
        copy.made = query.moment(4);
        copy.proven = query.moment(5);
        copy.checked = query.moment(6);
        copy.first_error = query.moment(7);
        copy.last_error = query.moment(8);
        copy.trouble = query.text(9);
        const bool is_retired = std::binary_search(retired.begin(), retired.end(), copy.volume);
        copy.state = state_of(is_retired, query.integer(10) != 0, query.integer(11) != 0,
                              query.integer(12) != 0, copy.proven.has_value());
        copy.packed = query.integer(13) != 0;
        rows.push_back(std::move(row));
    }
    return rows;
}

BagGroups load_groups(sql::Database& database) {
    BagGroups groups = group_bags(load_bags(database), load_copies(database), load_seals(database));
    take_assignments(database, groups.bags);
    return groups;
}

Facts Register::facts() {
    sql::Database& database = inside().database;
    const sql::Snapshot snapshot(database);
    Facts facts;
    facts.volumes = load_volumes(database);
    facts.bags = load_groups(database).bags;
    return facts;
}

}  // namespace glassine::shelf

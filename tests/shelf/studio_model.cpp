#include "shelf/studio_model.h"

#include <algorithm>

#include <catch2/catch.hpp>

namespace glassine::test {

using namespace shelf;

namespace {

constexpr std::int64_t one_second = 1'000'000'000;
constexpr std::int64_t one_day = 86'400 * one_second;
constexpr std::uint64_t bag_bytes = 5'000'000;
constexpr std::uint64_t bags_a_drive = 260;

}  // namespace

std::uint64_t ModelVolume::used() const {
    return copies.size() * bag_bytes;
}

StudioModel::StudioModel(Register& reg, unsigned seed) : register_(reg), random_(seed) {}

void StudioModel::set_day(Date day) {
    today_ = day;
    tick_ = 0;
    if (volumes_.empty()) add_volume(VolumeKind::server);
}

Timestamp StudioModel::now() {
    const auto noon = std::chrono::sys_days(today_) + std::chrono::hours(12);
    const auto since = std::chrono::nanoseconds(noon.time_since_epoch()).count();
    return {since + ++tick_ * one_second};
}

bool StudioModel::chance(double probability) {
    return std::uniform_real_distribution<>(0, 1)(random_) < probability;
}

std::size_t StudioModel::pick(std::size_t below) {
    return std::uniform_int_distribution<std::size_t>(0, below - 1)(random_);
}

ModelVolume& StudioModel::add_volume(VolumeKind kind) {
    const std::size_t number = volumes_.size();
    const std::string id = fmt::format("{}-{:03}", word(kind), number);
    ModelVolume& volume = volumes_[id];
    volume.identity = test::volume(id, kind, fmt::format("place {}", number % 4));
    volume.identity.in_service = today_;
    volume.identity.written = now();
    volume.identity.capacity = kind == VolumeKind::drive ? bag_bytes * bags_a_drive : 0;
    volume.root = "/mnt/" + id;
    register_.record_volume(volume.identity, volume.root);
    return volume;
}

ModelVolume& StudioModel::server() {
    return volumes_.at("server-000");
}

ModelVolume& StudioModel::drive_with_room() {
    for (auto& [id, volume] : volumes_) {
        const bool young = later(*volume.identity.in_service, {48, 0}) > today_;
        if (volume.alive && young && volume.identity.kind == VolumeKind::drive &&
            volume.used() + bag_bytes <= volume.identity.capacity) {
            return volume;
        }
    }
    return add_volume(VolumeKind::drive);
}

Event StudioModel::event(std::string_view type, const ModelVolume& volume, const BagRecord& bag,
                         Outcome outcome) {
    Event event = new_event(type, now(), outcome);
    event.with_object(object_type::bag, bag.name).with_object(object_type::seal, bag.seal);
    event.with_object(object_type::volume, volume.identity.id);
    return event;
}

void StudioModel::tell(ModelVolume& log, Event event) {
    REQUIRE(register_.record_event(event));
    log.log.push_back(std::move(event));
}

void StudioModel::put(ModelVolume& volume, const BagRecord& bag, std::string_view how) {
    BagRecord here = bag;
    here.volume = volume.identity.id;
    register_.record_bag(here);
    ModelCopy& copy = volume.copies[bag.name];
    REQUIRE(copy.bag == nullptr);
    copy.bag = &bag;
    ever_on_[bag.name].insert(volume.identity.id);
    dropped_[bag.name].erase(volume.identity.id);
    tell(volume, event(how, volume, bag, Outcome::success));
    Event read_back = event(event_type::fixity_check, volume, bag, Outcome::success);
    copy.proven = read_back.time;
    tell(volume, std::move(read_back));
}

void StudioModel::close_job() {
    auto bag = std::make_unique<BagRecord>(
        test::bag(fmt::format("{}_job-{:04}", iso_date(today_), bags_.size()), ""));
    bag->sealed = today_;
    bag->shoot_date = today_;
    bag->payload_bytes = bag_bytes;
    bags_.push_back(std::move(bag));
    put(server(), *bags_.back(), event_type::ingestion);
    put(drive_with_room(), *bags_.back(), event_type::replication);
}

void StudioModel::rot() {
    auto volume = std::next(volumes_.begin(), static_cast<std::ptrdiff_t>(pick(volumes_.size())));
    auto& copies = volume->second.copies;
    if (!volume->second.alive || copies.empty()) return;
    std::next(copies.begin(), static_cast<std::ptrdiff_t>(pick(copies.size())))->second.rotten =
        true;
}

void StudioModel::lose_drive() {
    auto volume = std::next(volumes_.begin(), static_cast<std::ptrdiff_t>(pick(volumes_.size())));
    if (!volume->second.alive || volume->second.identity.kind == VolumeKind::server) return;
    retire(volume->second, server());
}

void StudioModel::retire(ModelVolume& volume, ModelVolume& told) {
    volume.alive = false;
    Event event = new_event(event_type::deaccession, now());
    event.with_object(object_type::volume, volume.identity.id);
    tell(told, std::move(event));
}

void StudioModel::audit(ModelVolume& volume, const std::string& bag) {
    ModelCopy& copy = volume.copies.at(bag);
    Event check = event(event_type::fixity_check, volume, *copy.bag,
                        copy.rotten ? Outcome::failure : Outcome::success);
    if (copy.rotten && !copy.known_bad) {
        copy.known_bad = true;
        last_error_[bag] = check.time;
        if (!volume.first_error) volume.first_error = check.time;
        volume.last_error = check.time;
    } else if (!copy.rotten) {
        copy.known_bad = false;
        copy.proven = check.time;
    }
    tell(volume, std::move(check));
}

void StudioModel::mend(ModelVolume& volume, const std::string& bag) {
    ModelCopy& copy = volume.copies.at(bag);
    tell(volume, event(event_type::recovery, volume, *copy.bag, Outcome::success));
    copy.rotten = false;
    audit(volume, bag);
}

void StudioModel::drop(ModelVolume& volume, const std::string& bag) {
    tell(volume,
         event(event_type::deaccession, volume, *volume.copies.at(bag).bag, Outcome::success));
    volume.copies.erase(bag);
    dropped_[bag].insert(volume.identity.id);
}

ModelCopy* StudioModel::good_copy(const std::string& bag) {
    for (auto& [id, volume] : volumes_) {
        if (!volume.alive) continue;
        const auto copy = volume.copies.find(bag);
        if (copy != volume.copies.end() && !copy->second.known_bad) return &copy->second;
    }
    return nullptr;
}

ModelVolume& StudioModel::destination_of(const DueItem& item) {
    const std::string to = item.command.substr(item.command.rfind(" --to ") + 6);
    if (to == "OFF-SITE") return add_volume(VolumeKind::offsite);
    if (to == "NEW-DRIVE") return add_volume(VolumeKind::drive);
    for (auto& [id, volume] : volumes_) {
        if (volume.root == to) return volume;
    }
    FAIL("the list sends a copy to no volume: " << item.command);
    return volumes_.begin()->second;
}

void StudioModel::copy_further(const std::string& bag, const DueItem& item) {
    // The list was made before the work began: what it sent here may have filled the drive since.
    ModelVolume* to = &destination_of(item);
    const bool full = to->identity.capacity && to->used() + bag_bytes > to->identity.capacity;
    if (full || to->copies.contains(bag) || !to->alive) return;
    const ModelCopy* from = good_copy(bag);
    if (from && !from->rotten) put(*to, *from->bag, event_type::replication);
}

void StudioModel::replace(ModelVolume& old) {
    ModelVolume& fresh = add_volume(old.identity.kind);
    std::vector<std::string> names;
    for (const auto& [name, copy] : old.copies)
        names.push_back(name);
    for (const std::string& name : names) {
        const ModelCopy& copy = old.copies.at(name);
        // Whatever is carried is read: rot comes to light.
        if (copy.rotten) {
            audit(old, name);
        } else {
            put(fresh, *copy.bag, event_type::replication);
        }
    }
    retire(old, fresh);
}

void StudioModel::work_off(const DueItem& item) {
    switch (item.kind) {
        case DueKind::audit_at_risk:
        case DueKind::audit_overdue: {
            ModelVolume& volume = volumes_.at(item.volume);
            for (const std::string& bag : item.bags) {
                if (volume.alive && volume.copies.contains(bag)) audit(volume, bag);
            }
            break;
        }
        case DueKind::damaged_copy: {
            ModelVolume& volume = volumes_.at(item.volume);
            const ModelCopy* from = good_copy(item.bags[0]);
            if (volume.alive && volume.copies.contains(item.bags[0]) && from && !from->rotten) {
                mend(volume, item.bags[0]);
            }
            break;
        }
        case DueKind::no_whole_copy:
            if (!item.volume.empty() && volumes_.at(item.volume).alive) {
                mend(volumes_.at(item.volume), item.bags[0]);
            }
            break;
        case DueKind::too_few_copies:
            copy_further(item.bags[0], item);
            break;
        case DueKind::replace_drive:
            if (volumes_.at(item.volume).alive) replace(volumes_.at(item.volume));
            break;
        case DueKind::server_copy:
            if (item.command.starts_with("glassine clear")) {
                drop(volumes_.at(item.volume), item.bags[0]);
            } else {
                copy_further(item.bags[0], item);
            }
            break;
        case DueKind::keep_ended:
            break;
    }
}

std::set<DueKey> StudioModel::keys(const std::vector<DueItem>& items) {
    std::set<DueKey> keys;
    for (const DueItem& item : items) {
        const bool whole_volume = item.kind == DueKind::replace_drive;
        // Where a bag lacks a copy no volume is at fault.
        const bool no_volume = item.kind == DueKind::no_whole_copy;
        for (const std::string& bag : item.bags) {
            keys.emplace(word(item.kind), no_volume ? "" : item.volume, whole_volume ? "" : bag);
        }
    }
    return keys;
}

unsigned StudioModel::held(const std::string& bag) const {
    unsigned held = 0;
    for (const auto& [id, volume] : volumes_) {
        const auto copy = volume.copies.find(bag);
        if (!volume.alive || copy == volume.copies.end() || copy->second.known_bad) continue;
        if (later(utc_date(*copy->second.proven), {12, 0}) >= today_) ++held;
    }
    return held;
}

std::set<DueKey> StudioModel::due(const Policy& policy) const {
    std::set<DueKey> due;
    for (const auto& bag : bags_) {
        unsigned there = 0;
        unsigned good = 0;
        unsigned off_site = 0;
        std::set<VolumeKind> kinds;
        for (const std::string& id : ever_on_.at(bag->name)) {
            const ModelVolume& volume = volumes_.at(id);
            const auto found = volume.copies.find(bag->name);
            if (!volume.alive || found == volume.copies.end()) continue;
            ++there;
            kinds.insert(volume.identity.kind);
            if (volume.identity.kind == VolumeKind::offsite) ++off_site;
            if (!found->second.known_bad) ++good;
        }
        if (good == 0) {
            if (there > 0 || dropped_.at(bag->name) != ever_on_.at(bag->name)) {
                due.emplace("no-whole-copy", "", bag->name);
            }
            continue;
        }
        if (there < policy.copies || off_site < policy.off_site ||
            kinds.size() < policy.media_kinds) {
            due.emplace("too-few-copies", "", bag->name);
        }
        for (const std::string& id : ever_on_.at(bag->name)) {
            const ModelVolume& volume = volumes_.at(id);
            const auto found = volume.copies.find(bag->name);
            if (!volume.alive || found == volume.copies.end()) continue;
            const ModelCopy& copy = found->second;
            if (copy.known_bad) {
                due.emplace("damaged-copy", id, bag->name);
                continue;
            }
            const auto before = [&](std::optional<Timestamp> error) {
                return error && copy.proven->nanoseconds < error->nanoseconds - one_day;
            };
            const auto error = last_error_.find(bag->name);
            const bool risk =
                before(volume.last_error) || (error != last_error_.end() && before(error->second));
            const bool old = later(utc_date(*copy.proven), policy.audit_every) <= today_;
            if (risk || old) due.emplace(risk ? "audit-at-risk" : "audit-overdue", id, bag->name);
            if (volume.identity.kind == VolumeKind::server &&
                later(*bag->sealed, policy.server_keeps) <= today_) {
                due.emplace("server-copy", id, bag->name);
            }
        }
    }
    for (const auto& [id, volume] : volumes_) {
        const bool old = later(*volume.identity.in_service, policy.drive_age) <= today_;
        const bool twice =
            volume.first_error &&
            utc_date(*volume.last_error) > later(utc_date(*volume.first_error), policy.error_span);
        const bool server = volume.identity.kind == VolumeKind::server;
        if (volume.alive && !volume.copies.empty() && ((old && !server) || twice)) {
            due.emplace("replace-drive", id, "");
        }
    }
    return due;
}

void StudioModel::rebuild(Register& into) const {
    Register::Batch batch(into);
    for (const auto& [id, volume] : volumes_) {
        if (!volume.alive) continue;
        into.record_volume(volume.identity, volume.root);
        std::vector<SeenCopy> seen;
        for (const auto& [name, copy] : volume.copies) {
            BagRecord here = *copy.bag;
            here.volume = id;
            into.record_bag(here);
            seen.push_back({{name, here.seal}});
        }
        into.record_events(volume.log);
        into.finish_scan(id, "", seen);
    }
    batch.commit();
}

}  // namespace glassine::test

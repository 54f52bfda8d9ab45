#pragma once

#include "glassine/shelf/register.h"

#include <string>
#include <string_view>
#include <utility>

#include <fmt/format.h>

/// Values for the shelf's tests: bags, volumes and events made from a few words.
namespace glassine::test {

inline Timestamp at(std::string_view text) {
    if (text.size() != 10) return *parse_rfc3339(text);
    return *parse_rfc3339(fmt::format("{}T12:00:00Z", text));
}

inline Date day(std::string_view text) {
    return *parse_date(text);
}

inline digest::Value content(std::string_view text) {
    return digest::digest_of(digest::Algorithm::sha512, text);
}

/// A seal as it would stand in a register, made from a word.
inline std::string seal(std::string_view word) {
    return content(word).hex();
}

inline shelf::VolumeIdentity volume(std::string id, shelf::VolumeKind kind,
                                    std::string place = "cupboard A") {
    shelf::VolumeIdentity identity;
    identity.label = id;
    for (char& c : identity.label)
        c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
    identity.id = std::move(id);
    identity.kind = kind;
    identity.place = std::move(place);
    identity.in_service = day("2024-01-01");
    identity.written = at("2024-01-01");
    return identity;
}

/// A bag of `frames` frames, each with a raw and a print, and one rejected raw with its proxy.
inline shelf::BagRecord bag(std::string name, std::string volume, unsigned frames = 2) {
    shelf::BagRecord record;
    record.seal = seal(name);
    record.volume = std::move(volume);
    record.path = "archive/" + name;
    record.clients = {"Okafor", "Lindqvist"};
    record.shoot_date = day("2025-09-06");
    record.sealed = day("2025-09-20");
    record.description = "sailing gala";
    for (unsigned i = 1; i <= frames; ++i) {
        const std::string raw = fmt::format("data/originals/KLA_{:04}.NEF", i);
        const std::string print = fmt::format("data/print/KLA_{:04}.jpg", i);
        record.payload.push_back({raw, content(name + raw)});
        record.payload.push_back({print, content(name + print)});
    }
    record.payload.push_back(
        {"data/reject-proxies/KLA_9999.jpg", content(name + "proxy of KLA_9999")});
    record.rejected.push_back(
        {"KLA_9999.NEF", content(name + "KLA_9999.NEF"), "data/reject-proxies/KLA_9999.jpg"});
    record.payload_files = record.payload.size();
    record.payload_bytes = record.payload.size() * 1'000'000;
    record.name = std::move(name);
    return record;
}

/// An event about one copy.
inline shelf::Event about(std::string_view type, std::string_view when,
                          const shelf::BagRecord& record,
                          shelf::Outcome outcome = shelf::Outcome::success, std::string note = {}) {
    shelf::Event event = shelf::new_event(type, at(when), outcome);
    if (!note.empty()) event.outcome_detail.push_back(std::move(note));
    event.with_object(shelf::object_type::bag, record.name, "source");
    event.with_object(shelf::object_type::seal, record.seal, "source");
    event.with_object(shelf::object_type::volume, record.volume);
    event.with_object(shelf::object_type::path, record.path);
    return event;
}

inline shelf::Event about_volume(std::string_view type, std::string_view when, std::string id,
                                 shelf::Outcome outcome = shelf::Outcome::success) {
    shelf::Event event = shelf::new_event(type, at(when), outcome);
    event.with_object(shelf::object_type::volume, std::move(id));
    return event;
}

inline const shelf::BagFacts* find(const shelf::Facts& facts, std::string_view name) {
    for (const shelf::BagFacts& bag : facts.bags) {
        if (bag.name == name) return &bag;
    }
    return nullptr;
}

inline const shelf::CopyFacts* find(const shelf::Facts& facts, std::string_view name,
                                    std::string_view volume) {
    const shelf::BagFacts* bag = find(facts, name);
    if (!bag) return nullptr;
    for (const shelf::CopyFacts& copy : bag->copies) {
        if (copy.volume == volume) return &copy;
    }
    return nullptr;
}

}  // namespace glassine::test

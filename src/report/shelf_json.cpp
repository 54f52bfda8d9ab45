#include "glassine/base/text.h"
#include "glassine/report/shelf_pages.h"
#include "glassine/report/shelf_results.h"
#include "report/json_parts.h"

#include <algorithm>
#include <optional>

namespace glassine::report {
namespace {

Json moment(const std::optional<Timestamp>& at) {
    return at ? Json(rfc3339(*at)) : Json();
}

Json identity(const shelf::VolumeIdentity& volume, const std::string& root) {
    Json out;
    out["id"] = volume.id;
    out["label"] = text::to_utf8(volume.label);
    out["place"] = text::to_utf8(volume.place);
    out["kind"] = word(volume.kind);
    out["in_service"] = day(volume.in_service);
    out["capacity"] = volume.capacity;
    out["model"] = text::to_utf8(volume.model);
    out["serial"] = text::to_utf8(volume.serial);
    out["purchase"] = text::to_utf8(volume.purchase);
    out["root"] = text::to_utf8(root);
    return out;
}

Json volume_facts(const shelf::VolumeFacts& volume) {
    Json out = identity(volume.identity, volume.root);
    out["retired"] = moment(volume.retired);
    out["last_seen"] = moment(volume.last_seen);
    out["first_error"] = moment(volume.first_error);
    out["last_error"] = moment(volume.last_error);
    return out;
}

Json copy_facts(const shelf::CopyFacts& copy, const std::vector<shelf::VolumeFacts>& volumes) {
    const auto at = std::ranges::find(
        volumes, copy.volume,
        [](const shelf::VolumeFacts& v) -> const std::string& { return v.identity.id; });
    Json out;
    out["volume"] = copy.volume;
    out["label"] = at == volumes.end() ? "" : text::to_utf8(at->name());
    out["place"] = at == volumes.end() ? "" : text::to_utf8(at->identity.place);
    out["path"] = text::to_utf8(copy.path);
    out["packed"] = copy.packed;
    out["seal"] = copy.seal;
    out["state"] = word(copy.state);
    out["made"] = moment(copy.made);
    out["proven"] = moment(copy.proven);
    out["checked"] = moment(copy.checked);
    out["trouble"] = text::to_utf8(copy.trouble);
    return out;
}

Json bag_facts(const shelf::BagFacts& bag, const shelf::Standing& standing,
               const std::vector<shelf::VolumeFacts>& volumes) {
    Json out;
    out["bag"] = text::to_utf8(bag.name);
    out["job_number"] = text::to_utf8(bag.number);
    out["clients"] = texts(bag.clients);
    out["shoot_date"] = day(bag.shoot_date);
    out["description"] = text::to_utf8(bag.description);
    out["sealed"] = day(bag.sealed);
    out["files"] = bag.payload_files;
    out["bytes"] = bag.payload_bytes;
    out["promised_until"] = day(standing.promised_until);
    out["keep_until"] = day(standing.keep_until);
    out["storage_level"] = standing.storage_level;
    out["next_storage"] = standing.next_storage;
    out["integrity_level"] = standing.integrity_level;
    out["next_integrity"] = standing.next_integrity;
    out["proven"] = moment(standing.proven);
    out["lacks"] = texts(standing.lacks);
    out["weaknesses"] = texts(standing.weaknesses);
    out["copies"] = Json::array();
    for (const shelf::CopyFacts& copy : bag.copies)
        out["copies"].push_back(copy_facts(copy, volumes));
    return out;
}

Json due_items(const std::vector<shelf::DueItem>& items, const shelf::Facts& facts) {
    Json out = Json::array();
    for (const shelf::DueItem& item : items) {
        const shelf::VolumeFacts* volume = facts.volume(item.volume);
        out.push_back({{"kind", word(item.kind)},
                       {"since", iso_date(item.since)},
                       {"volume", item.volume},
                       {"label", volume == nullptr ? "" : text::to_utf8(volume->name())},
                       {"bags", texts(item.bags)},
                       {"what", text::to_utf8(item.what)},
                       {"to_type", text::to_utf8(item.command)}});
    }
    return out;
}

}  // namespace

std::string to_json(const ShelfAddResult& result) {
    Json out = common(result);
    out["volume"] = identity(result.volume, result.root);
    out["findings"] = findings(result.findings);
    return printed(out);
}

std::string to_json(const ShelfOverview& result) {
    Json out = common(result);
    out["register"] = text::to_utf8(result.register_file);
    out["today"] = iso_date(result.today);
    out["volumes"] = Json::array();
    for (const shelf::VolumeFacts& volume : result.facts.volumes)
        out["volumes"].push_back(volume_facts(volume));
    out["bags"] = Json::array();
    for (std::size_t i = 0; i < result.facts.bags.size(); ++i)
        out["bags"].push_back(
            bag_facts(result.facts.bags[i], result.standings[i], result.facts.volumes));
    out["findings"] = findings(result.findings);
    return printed(out);
}

std::string to_json(const ShelfDueResult& result) {
    Json out = common(result);
    out["today"] = iso_date(result.today);
    out["due"] = due_items(result.items, result.facts);
    return printed(out);
}

std::string to_json(const ShelfFindResult& result) {
    Json out = common(result);
    out["words"] = text::to_utf8(result.words);
    out["hits"] = Json::array();
    for (const ShelfFindResult::Hit& hit : result.hits) {
        Json one = bag_facts(hit.found.bag, hit.standing, result.volumes);
        one["score"] = hit.found.score;
        one["frames"] = texts(hit.found.frames);
        out["hits"].push_back(std::move(one));
    }
    return printed(out);
}

std::string to_json(const ShelfScanResult& result) {
    Json out = common(result);
    out["volumes"] = Json::array();
    for (const ScannedVolume& scanned : result.volumes) {
        Json one = identity(scanned.volume, scanned.root);
        one["bags"] = scanned.bags;
        one["events"] = scanned.events;
        one["new_events"] = scanned.new_events;
        out["volumes"].push_back(std::move(one));
    }
    out["set_aside"] = text::to_utf8(result.set_aside);
    out["findings"] = findings(result.findings);
    return printed(out);
}

std::string to_json(const ShelfDatesResult& result) {
    Json out = common(result);
    out["bag"] = text::to_utf8(result.bag);
    out["promised_until"] = day(result.promised_until);
    out["keep_until"] = day(result.keep_until);
    out["volumes"] = texts(result.volumes);
    out["findings"] = findings(result.findings);
    return printed(out);
}

std::string to_json(const ShelfRetireResult& result) {
    Json out = common(result);
    out["volume"] = identity(result.volume, "");
    out["bags"] = texts(result.bags);
    out["findings"] = findings(result.findings);
    return printed(out);
}

std::string to_json(const ShelfPageResult& result) {
    Json out = common(result);
    out["html"] = text::to_utf8(result.html);
    out["volumes"] = result.volumes;
    out["bags"] = result.bags;
    out["due"] = result.due;
    return printed(out);
}

std::string to_json(const ShelfLabelResult& result) {
    Json out = common(result);
    out["today"] = iso_date(result.today);
    out["labels"] = Json::array();
    for (const VolumeLabel& label : result.labels) {
        Json one = identity(label.volume, "");
        one.erase("root");
        one["retired"] = day(label.retired);
        one["next_audit"] = day(label.next_audit);
        one["jobs"] = Json::array();
        for (const VolumeLabel::Job& job : label.jobs)
            one["jobs"].push_back({{"bag", text::to_utf8(job.bag)},
                                   {"seal", text::to_utf8(job.seal)},
                                   {"state", word(job.state)}});
        out["labels"].push_back(std::move(one));
    }
    out["html"] = text::to_utf8(result.html);
    out["svg"] = text::to_utf8(result.svg);
    return printed(out);
}

}  // namespace glassine::report

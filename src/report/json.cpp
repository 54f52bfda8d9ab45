#include "glassine/report/json.h"

#include "glassine/base/text.h"
#include "report/json_parts.h"

#include <cmath>

namespace glassine::report {
namespace {

Json body(const job::BodySummary& b) {
    return {{"camera", text::to_utf8(b.label)},
            {"shot", b.shot},
            {"kept", b.kept},
            {"rejected", b.rejected},
            {"missing", b.missing},
            {"counted", b.counted},
            {"broken", b.broken}};
}

Json frames(const job::Summary& summary) {
    Json out;
    out["bodies"] = Json::array();
    for (const job::BodySummary& b : summary.bodies)
        out["bodies"].push_back(body(b));
    out["total"] = body(summary.total);
    out["delivered"] = summary.delivered;
    return out;
}

Json copy(const Copy& c) {
    Json out;
    out["destination"] = text::to_utf8(c.destination);
    out["path"] = text::to_utf8(c.path);
    out["verified"] = c.verified;
    if (!c.how.empty()) out["how"] = c.how;
    if (!c.failure.empty()) out["failure"] = text::to_utf8(c.failure);
    return out;
}

Json bag(const bagit::BagReport& b) {
    Json out;
    out["path"] = text::to_utf8(b.path);
    out["name"] = text::to_utf8(b.name);
    if (!b.archive.empty()) out["archive"] = b.archive;
    out["bagit_version"] = text::to_utf8(b.bagit_version);
    out["encoding"] = text::to_utf8(b.encoding);
    out["complete"] = b.complete;
    out["valid"] = b.valid ? Json(*b.valid) : Json();
    out["files"] = b.files;
    out["bytes"] = b.bytes;
    if (b.seal) out["seal"] = *b.seal;
    out["findings"] = findings(b.findings);
    return out;
}

}  // namespace

std::string to_json(const PreflightResult& result) {
    Json out = common(result);
    out["job"] = text::to_utf8(result.job);
    out["files"] = result.files;
    out["bytes"] = result.bytes;
    out["sections"] = sections(result.sections);
    out["frames"] = frames(result.summary);
    out["findings"] = findings(result.findings);
    return printed(out);
}

std::string to_json(const CloseoutResult& result) {
    Json out = common(result);
    out["bag_name"] = result.bag_name;
    out["seal"] = result.seal.empty() ? Json() : Json(result.seal);
    out["dry_run"] = result.dry_run;
    out["files"] = result.files;
    out["bytes"] = result.bytes;
    out["copies"] = Json::array();
    for (const Copy& c : result.copies)
        out["copies"].push_back(copy(c));
    out["sections"] = sections(result.sections);
    out["frames"] = frames(result.summary);
    out["accepted"] = result.accepted;
    out["rejected_raws"] = Json::array();
    for (const std::string& path : result.rejected_raws)
        out["rejected_raws"].push_back(text::to_utf8(path));
    out["findings"] = findings(result.findings);
    return printed(out);
}

std::string to_json(const AuditResult& result) {
    Json out = common(result);
    out["quick"] = result.quick;
    if (!result.profile.empty()) out["profile"] = text::to_utf8(result.profile);
    out["bags"] = Json::array();
    for (const AuditedBag& b : result.bags) {
        out["bags"].push_back(bag(b.report));
        if (b.conforms) out["bags"].back()["conforms"] = *b.conforms;
        if (!b.outlook.empty()) out["bags"].back()["outlook"] = b.outlook;
        if (b.proven_before > 0) out["bags"].back()["proven_before"] = b.proven_before;
        if (b.store_checksums)
            out["bags"].back()["store_checksums"] = {{"same", b.store_checksums->same},
                                                     {"other", b.store_checksums->other}};
    }
    if (result.budget) out["budget"] = *result.budget;
    if (result.byte_budget) out["byte_budget"] = *result.byte_budget;
    out["left"] = Json::array();
    for (const std::string& path : result.left)
        out["left"].push_back(text::to_utf8(path));
    out["rates"] = Json::array();
    for (const VolumeRate& rate : result.rates)
        out["rates"].push_back({{"label", text::to_utf8(rate.label)},
                                {"bytes_per_second", std::llround(rate.now)},
                                {"usual_bytes_per_second", std::llround(rate.usual)}});
    out["findings"] = findings(result.findings);
    return printed(out);
}

std::string to_json(const MendResult& result) {
    Json out = common(result);
    out["bag"] = text::to_utf8(result.bag);
    out["dry_run"] = result.dry_run;
    out["healed"] = Json::array();
    out["details"] = Json::array();
    for (const HealedFile& file : result.healed) {
        out["healed"].push_back(text::to_utf8(file.path));
        out["details"].push_back({{"path", text::to_utf8(file.path)},
                                  {"from", text::to_utf8(file.from)},
                                  {"changes", file.changes}});
    }
    out["beyond_repair"] = Json::array();
    for (const std::string& path : result.beyond_repair)
        out["beyond_repair"].push_back(text::to_utf8(path));
    out["quarantine"] = text::to_utf8(result.quarantine);
    out["findings"] = findings(result.findings);
    return printed(out);
}

std::string to_json(const InspectResult& result) {
    Json out = common(result);
    out["bag"] = bag(result.bag);
    out["sections"] = sections(result.sections);
    Json info = Json::array();
    for (const bagit::Element& e : result.bag.info)
        info.push_back({{"label", text::to_utf8(e.label)},
                        {"value", text::to_utf8(bagit::unfolded(e.value))}});
    out["info"] = info;
    return printed(out);
}

}  // namespace glassine::report

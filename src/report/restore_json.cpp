#include "glassine/base/text.h"
#include "glassine/report/restore_result.h"
#include "report/json_parts.h"

namespace glassine::report {
namespace {

Json found_job(const FoundJob& found) {
    Json out;
    out["bag"] = text::to_utf8(found.bag);
    out["clients"] = texts(found.clients);
    out["files"] = found.files;
    out["bytes"] = found.bytes;
    out["frames"] = texts(found.frames);
    out["copies"] = Json::array();
    for (const FoundCopy& copy : found.copies) {
        Json one;
        one["label"] = text::to_utf8(copy.label);
        one["place"] = text::to_utf8(copy.place);
        one["state"] = shelf::word(copy.state);
        one["proven"] = copy.proven ? Json(rfc3339(*copy.proven)) : Json();
        one["connected"] = !copy.path.empty();
        one["path"] = text::to_utf8(copy.path);
        out["copies"].push_back(std::move(one));
    }
    return out;
}

}  // namespace

std::string to_json(const RestoreResult& result) {
    Json out = common(result);
    out["words"] = text::to_utf8(result.words);
    out["jobs"] = Json::array();
    for (const FoundJob& found : result.jobs)
        out["jobs"].push_back(found_job(found));
    out["bag_name"] = text::to_utf8(result.bag_name);
    out["from"] = text::to_utf8(result.from);
    out["target"] = text::to_utf8(result.target);
    out["written"] = Json::array();
    for (const std::string& path : result.written)
        out["written"].push_back(text::to_utf8(path));
    out["files"] = result.files;
    out["bytes"] = result.bytes;
    out["there_already"] = result.there_already;
    out["sections"] = sections(result.sections);
    out["gallery"] = result.gallery;
    out["healed"] = Json::array();
    for (const HealedFile& file : result.healed)
        out["healed"].push_back(
            {{"path", text::to_utf8(file.path)}, {"from", text::to_utf8(file.from)}});
    out["findings"] = findings(result.findings);
    return printed(out);
}

}  // namespace glassine::report

#include "glassine/base/text.h"
#include "glassine/report/migrate_result.h"
#include "report/json_parts.h"

namespace glassine::report {
namespace {

Json bag(const MigratedBag& b) {
    Json out;
    out["source"] = text::to_utf8(b.source);
    out["path"] = text::to_utf8(b.path);
    out["fate"] = word(b.fate);
    out["verified"] = b.fate != Fate::failed;
    if (!b.how.empty()) out["how"] = b.how;
    if (!b.failure.empty()) out["failure"] = text::to_utf8(b.failure);
    out["files"] = b.files;
    out["bytes"] = b.bytes;
    out["copies"] = b.copies;
    out["lacks"] = texts(b.lacks);
    out["healed"] = Json::array();
    for (const HealedFile& file : b.healed)
        out["healed"].push_back(
            {{"path", text::to_utf8(file.path)}, {"from", text::to_utf8(file.from)}});
    out["findings"] = findings(b.findings);
    return out;
}

Json source(const RetiredSource& s) {
    Json out;
    out["path"] = text::to_utf8(s.path);
    out["files"] = s.files;
    out["bytes"] = s.bytes;
    out["accounted"] = s.accounted;
    out["may_go"] = s.may_go;
    out["policy_lets_go"] = s.policy_lets_go();
    out["left"] = findings(s.left);
    out["junk"] = texts(s.junk);
    out["records"] = texts(s.records);
    out["rejected_raws"] = texts(s.rejected);
    return out;
}

}  // namespace

std::string to_json(const MigrateResult& result) {
    Json out = common(result);
    out["target"] = text::to_utf8(result.target);
    out["bags"] = Json::array();
    for (const MigratedBag& b : result.bags)
        out["bags"].push_back(bag(b));
    out["sources"] = Json::array();
    for (const RetiredSource& s : result.sources)
        out["sources"].push_back(source(s));
    if (result.budget) out["budget"] = *result.budget;
    out["left"] = texts(result.left);
    out["copies_wanted"] = result.copies_wanted;
    out["findings"] = findings(result.findings);
    return printed(out);
}

}  // namespace glassine::report

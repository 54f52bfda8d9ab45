#include "glassine/report/json.h"

#include "glassine/report/clear_result.h"
#include "glassine/report/migrate_result.h"
#include "glassine/report/restore_result.h"
#include "glassine/report/shelf_pages.h"
#include "support/temp_folder.h"

#include <set>
#include <string>
#include <vector>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

using namespace glassine;
using Json = nlohmann::json;

namespace {

Finding anything() {
    Finding f = found(FindingKind::payload_altered, "data/a\xFF.dng", "it is not the same \xFF");
    f.offset = 4096;
    f.length = 512;
    return f;
}

void keys_of(const Json& json, std::set<std::string>& keys) {
    if (json.is_object())
        for (const auto& [key, value] : json.items())
            keys.insert(key);
    if (json.is_structured())
        for (const Json& value : json)
            keys_of(value, keys);
}

report::SectionCount some_pictures() {
    return {job::Section::print, 3, 1000};
}

job::Summary two_bodies() {
    job::Summary summary;
    summary.bodies.resize(2);
    return summary;
}

report::PreflightResult preflight() {
    report::PreflightResult result;
    result.command = "preflight";
    result.sections = {some_pictures()};
    result.summary = two_bodies();
    result.findings = {anything()};
    return result;
}

report::CloseoutResult closeout() {
    report::CloseoutResult result;
    result.command = "closeout";
    result.sections = {some_pictures()};
    result.summary = two_bodies();
    result.findings = {anything()};
    result.copies = {{"/drive", "/drive/bag", "", true, "read back from the medium", ""},
                     {"/other", "", "", false, "", "the drive is gone"}};
    result.rejected_raws = {"rejects/b.dng"};
    return result;
}

report::AuditResult audit() {
    report::AuditResult result;
    result.command = "audit";
    result.bags.resize(2);
    result.bags[0].report.valid = true;
    result.bags[0].report.seal = "00";
    result.bags[0].report.findings = {anything()};
    result.bags[0].report.archive = "application/x-tar";
    result.bags[0].conforms = false;
    result.bags[0].outlook = "healable";
    result.bags[0].proven_before = 3;
    result.budget = 5400;
    result.left = {"/drive/bag"};
    result.rates = {{"SHELF-07", 1e8, 2e8}};
    result.profile = "urn:example:profile";
    result.findings = {anything()};
    return result;
}

report::InspectResult inspect() {
    report::InspectResult result;
    result.command = "inspect";
    result.sections = {some_pictures()};
    result.bag.info.push_back({"Client-Name", "Maren Holt"});
    return result;
}

report::MendResult mend() {
    report::MendResult result;
    result.command = "mend";
    result.healed = {{"data/a.dng", "recovery data", {"one bit"}}};
    result.beyond_repair = {"data/b.dng"};
    result.findings = {anything()};
    return result;
}

report::RestoreResult restore() {
    report::RestoreResult result;
    result.command = "restore";
    result.jobs.resize(1);
    result.jobs[0].copies.resize(1);
    result.written = {"/out"};
    result.sections = {some_pictures()};
    result.healed = {{"data/a.jpg", "recovery data", {}}};
    result.findings = {anything()};
    return result;
}

report::MigrateResult migrate() {
    report::MigrateResult result;
    result.command = "migrate";
    result.budget = 60;
    result.left = {"/old/b"};
    result.bags.resize(1);
    result.bags[0].how = "read back from the medium";
    result.bags[0].failure = "none";
    result.bags[0].lacks = {"1 of 3 copies"};
    result.bags[0].healed = {{"data/a.jpg", "recovery data", {}}};
    result.bags[0].findings = {anything()};
    result.sources.resize(1);
    result.sources[0].left = {anything()};
    result.sources[0].junk = {".DS_Store"};
    result.sources[0].records = {"glassine-volume.json"};
    result.sources[0].rejected = {"a.dng"};
    result.findings = {anything()};
    return result;
}

/// The documents of the shelf's commands, with every field filled in.
std::vector<std::string> shelf_documents() {
    const Date day = *parse_date("2025-06-14");
    shelf::VolumeFacts volume;
    volume.identity.id = "0d9c";
    volume.identity.label = "SHELF-07";
    volume.identity.in_service = day;
    shelf::BagFacts bag;
    bag.name = "2025-06-14_holt_gala";
    bag.copies.push_back(
        {"0d9c", "archive", "00", false, shelf::CopyState::whole, {}, {}, {}, {}, {}, ""});
    report::ShelfAddResult add;
    add.volume = volume.identity;
    report::ShelfOverview list;
    list.today = day;
    list.facts = {{volume}, {bag}};
    list.standings.resize(1);
    report::ShelfDueResult due;
    due.today = day;
    due.items.push_back({shelf::DueKind::damaged_copy, day, "0d9c", {bag.name}, "what", "mend"});
    report::ShelfFindResult find;
    find.hits.push_back({{bag, 1, {"KLA_0042"}}, {}});
    find.volumes = {volume};
    report::ShelfScanResult scan;
    scan.volumes.push_back({volume.identity, "/drive", 1, 2, 3});
    scan.findings = {anything()};
    report::ShelfRetireResult retire;
    retire.bags = {bag.name};
    report::ShelfPageResult page;
    report::ShelfLabelResult label;
    label.today = day;
    label.labels.resize(1);
    label.labels[0].volume = volume.identity;
    label.labels[0].jobs = {{bag.name, "00", shelf::CopyState::whole}};
    report::ClearResult clear;
    clear.weaknesses = {"one place"};
    clear.jobs = {{bag.name, 4, day, day}};
    report::ShelfDatesResult dates;
    dates.bag = bag.name;
    dates.volumes = {"SHELF"};
    return {report::to_json(add),   report::to_json(list), report::to_json(due),
            report::to_json(find),  report::to_json(scan), report::to_json(retire),
            report::to_json(clear), report::to_json(page), report::to_json(label),
            report::to_json(dates)};
}

}  // namespace

TEST_CASE("docs/json.md names every field there is") {
    const std::string page = test::content_of(SOURCE_TREE "/docs/json.md");
    std::set<std::string> keys;
    for (const std::string& text :
         {report::to_json(preflight()), report::to_json(closeout()), report::to_json(audit()),
          report::to_json(inspect()), report::to_json(mend()), report::to_json(restore()),
          report::to_json(migrate())})
        keys_of(Json::parse(text), keys);
    for (const std::string& text : shelf_documents())
        keys_of(Json::parse(text), keys);
    CHECK(keys.size() > 40);
    for (const std::string& key : keys) {
        INFO(key);
        const bool alone = page.find("`" + key + "`") != std::string::npos;
        const bool in_list = page.find("{" + key + ",") != std::string::npos ||
                             page.find(" " + key + ",") != std::string::npos ||
                             page.find(" " + key + "}") != std::string::npos;
        CHECK((alone || in_list));
    }
}

TEST_CASE("hostile paths stay valid JSON, and can be told from one another") {
    const Json json = Json::parse(report::to_json(audit()));
    const Json& finding = json.at("bags").at(0).at("findings").at(0);
    CHECK(finding.at("kind") == "payload-altered");
    CHECK(finding.at("severity") == "damage");
    CHECK(finding.at("path") == "data/a\uFFFD.dng");
    CHECK(finding.at("path_hex") == "646174612f61ff2e646e67");
    CHECK(finding.at("offset") == 4096);
    CHECK(finding.at("length") == 512);
    CHECK(json.at("bags").at(1).at("valid").is_null());
}

TEST_CASE("JSON that is shown on a terminal does not drive it, and says the same") {
    report::AuditResult result = audit();
    const std::string evil = "a\x1b[2J\n\x7f\u009b\u202e\u2066\u061c\u2028Zoë 東京 \U0001F4F7";
    result.bags[0].report.name = evil;
    const std::string text = report::to_json(result);
    for (const char* driver : {"\x1b", "\x7f", "\u009b", "\u202e", "\u2066", "\u061c", "\u2028"})
        CHECK(text.find(driver) == std::string::npos);
    CHECK(text.find("Zoë 東京 \U0001F4F7") != std::string::npos);
    CHECK(Json::parse(text).at("bags").at(0).at("name") == evil);
}

TEST_CASE("an outcome's word goes with its exit code") {
    report::PreflightResult result = preflight();
    result.finished = Timestamp{1'000'000'000};
    for (const auto& [ending, code, word] :
         {std::tuple(report::Ending::good, 0, "ok"),
          std::tuple(report::Ending::attention, 1, "attention"),
          std::tuple(report::Ending::failed, 3, "failed"),
          std::tuple(report::Ending::interrupted, 130, "interrupted")}) {
        result.ending = ending;
        CHECK(static_cast<int>(ending) == code);
        const Json json = Json::parse(report::to_json(result));
        CHECK(json.at("outcome") == word);
        CHECK(json.at("started") == "1970-01-01T00:00:00Z");
        CHECK(json.at("finished") == "1970-01-01T00:00:01Z");
    }
    CHECK(report::worse(report::Ending::attention, report::Ending::failed) ==
          report::Ending::failed);
    CHECK(report::worse(report::Ending::good, report::Ending::attention) ==
          report::Ending::attention);
}

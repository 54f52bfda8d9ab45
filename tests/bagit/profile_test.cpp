#include "glassine/bagit/profile.h"

#include "bag_builder.h"
#include "glassine/bagit/archive.h"

#include <functional>
#include <set>

#include <nlohmann/json.hpp>

using namespace glassine;
using namespace glassine::test;
using bagit::Profile;
using Json = nlohmann::ordered_json;

// BagIt Profiles Specification 1.4.0; ids as in "BP §P-1" for rules on the profile, the name of the
// key for demands on the bag.
namespace {

/// A profile with only what it must have.
Json least() {
    return Json::parse(R"({"BagIt-Profile-Info": {
        "BagIt-Profile-Identifier": "https://example.org/profiles/photo-job-v1.json",
        "BagIt-Profile-Version": "1.4.0", "Version": "1.0", "Source-Organization": "Example Studio",
        "External-Description": "A delivered photo job"},
        "Accept-Serialization": ["application/zip", "application/x-tar"],
        "Accept-BagIt-Version": ["1.0"]})");
}

/// The specification's keys all in one, as our digest of it has them.
constexpr const char* every_key = R"(
{"BagIt-Profile-Info": {"BagIt-Profile-Identifier": "https://example.org/profiles/photo-job-v1.json",
   "BagIt-Profile-Version": "1.4.0", "Version": "1.0", "Source-Organization": "Example Studio",
   "External-Description": "A delivered photo job"},
 "Bag-Info": {"Bagging-Date": {"required": true, "repeatable": false},
   "Source-Organization": {"required": true, "values": ["Example Studio"]},
   "Payload-Oxum": {"required": true, "repeatable": false, "description": "bytes.files"}},
 "Manifests-Required": ["sha512"], "Manifests-Allowed": ["sha512", "sha256"],
 "Tag-Manifests-Required": ["sha512"], "Tag-Manifests-Allowed": ["sha512"],
 "Allow-Fetch.txt": false, "Fetch.txt-Required": false, "Data-Empty": false,
 "Serialization": "optional", "Accept-Serialization": ["application/zip", "application/x-tar"],
 "Accept-BagIt-Version": ["1.0"],
 "Tag-Files-Required": ["events.jsonl"], "Tag-Files-Allowed": ["*.jsonl", "*.txt", "recovery/*"],
 "Payload-Files-Required": ["data/originals/"], "Payload-Files-Allowed": ["data/originals/*", "data/web/*"]})";

std::vector<Finding> findings_of(const std::string& text) {
    std::vector<Finding> findings;
    bagit::parse_profile(text, "p.json", findings);
    return findings;
}

bool any(const std::vector<Finding>& findings, Severity severity) {
    return std::ranges::any_of(findings, [&](const Finding& f) {
        return f.severity == severity && f.kind == FindingKind::profile_malformed &&
               f.path == "p.json";
    });
}

/// A bag that names the profile and keeps everything that `every_key` asks for.
BagBuilder good_bag() {
    BagBuilder bag = BagBuilder::of("1.0");
    bag.files = {{"data/originals/a.raw", "raw"}, {"data/web/a.jpg", "web"}};
    bag.files["events.jsonl"] = "{}\n";
    bag.files["recovery/000.rec"] = "rec";
    bag.files["bag-info.txt"] =
        "BagIt-Profile-Identifier: https://example.org/profiles/photo-job-v1.json\n"
        "Source-Organization: Example Studio\nBagging-Date: 2025-09-07\nPayload-Oxum: 6.2\n";
    bag.seal();
    return bag;
}

std::vector<Finding> judged(const Json& profile, const BagBuilder& bag,
                            const std::string& archive = {}) {
    std::vector<Finding> ignored;
    const auto parsed = bagit::parse_profile(profile.dump(), "p.json", ignored);
    REQUIRE(parsed);
    std::vector<Finding> out;
    bagit::CheckOptions options;
    options.look = [&](const bagit::Bag& loaded, std::string_view type, const auto& report) {
        bagit::judge_by_profile(*parsed, loaded, archive.empty() ? type : archive, report);
    };
    const TempFolder folder;
    const auto report = bagit::check_folder(io::posix_file_system(), bag.write(folder), options);
    for (const Finding& f : report.findings)
        if (f.kind == FindingKind::profile_mismatch) out.push_back(f);
    return out;
}

}  // namespace

TEST_CASE("a profile that uses every key is read whole") {
    CHECK(findings_of(every_key).empty());
    std::vector<Finding> findings;
    const auto profile = bagit::parse_profile(every_key, "p.json", findings);
    REQUIRE(profile);
    CHECK(profile->identifier == "https://example.org/profiles/photo-job-v1.json");
    CHECK(profile->specification == "1.4.0");
    REQUIRE(profile->tags.size() == 3);
    CHECK(profile->tags[0].label == "Bagging-Date");
    CHECK(profile->tags[0].required);
    CHECK_FALSE(profile->tags[0].repeatable);
    CHECK(profile->tags[1].values == Profile::Names{"Example Studio"});
    CHECK(profile->manifests_allowed == Profile::Names{"sha512", "sha256"});
    CHECK_FALSE(profile->fetch_allowed);
    CHECK(profile->serialization == Profile::Serialization::optional);
    CHECK(profile->payload_files_required == Profile::Names{"data/originals/"});
    CHECK(judged(Json::parse(every_key), good_bag()).empty());
}

TEST_CASE("what a profile leaves out has the specification's default") {
    std::vector<Finding> findings;
    const auto profile = bagit::parse_profile(least().dump(), "p.json", findings);
    REQUIRE(profile);
    CHECK(findings.empty());
    CHECK(profile->fetch_allowed);
    CHECK_FALSE(profile->fetch_required);
    CHECK_FALSE(profile->data_empty);
    CHECK_FALSE(profile->manifests_allowed);
    CHECK_FALSE(profile->tag_files_allowed);
    CHECK(profile->serialization == Profile::Serialization::optional);
}

TEST_CASE("profiles that break the rules for profiles") {
    struct Broken {
        const char* rule;
        Severity severity;
        std::function<void(Json&)> change;
    };
    const std::vector<Broken> cases{
        {"P-1", Severity::damage, [](Json& p) { p.erase("BagIt-Profile-Info"); }},
        {"P-1", Severity::damage, [](Json& p) { p["BagIt-Profile-Info"].erase("Version"); }},
        {"P-1", Severity::damage,
         [](Json& p) { p["BagIt-Profile-Info"].erase("BagIt-Profile-Identifier"); }},
        {"P-1", Severity::damage,
         [](Json& p) { p["BagIt-Profile-Info"]["Source-Organization"] = ""; }},
        {"§4", Severity::warning,
         [](Json& p) { p["BagIt-Profile-Info"].erase("BagIt-Profile-Version"); }},
        {"P-2", Severity::damage, [](Json& p) { p.erase("Accept-BagIt-Version"); }},
        {"P-2", Severity::damage, [](Json& p) { p["Accept-BagIt-Version"] = Json::array(); }},
        {"1.2.0", Severity::damage, [](Json& p) { p["Accept-BagIt-Version"] = {1.0}; }},
        {"P-3", Severity::warning, [](Json& p) { p.erase("Accept-Serialization"); }},
        {"P-4", Severity::damage,
         [](Json& p) {
             p["Manifests-Required"] = {"sha512"};
             p["Manifests-Allowed"] = {"md5"};
         }},
        {"P-4", Severity::damage,
         [](Json& p) {
             p["Tag-Manifests-Required"] = {"sha512"};
             p["Tag-Manifests-Allowed"] = Json::array();
         }},
        {"P-5", Severity::damage,
         [](Json& p) {
             p["Tag-Files-Required"] = {"notes/a.txt"};
             p["Tag-Files-Allowed"] = {"*.jsonl"};
         }},
        {"P-5", Severity::damage,
         [](Json& p) {
             p["Payload-Files-Required"] = {"data/originals/"};
             p["Payload-Files-Allowed"] = {"data/web/*"};
         }},
        {"P-6", Severity::warning, [](Json& p) { p["Tag-Files-Required"] = {"bag-info.txt"}; }},
        {"P-6", Severity::warning, [](Json& p) { p["Tag-Files-Required"] = {"manifest-md5.txt"}; }},
        {"P-7", Severity::damage,
         [](Json& p) {
             p["Allow-Fetch.txt"] = false;
             p["Fetch.txt-Required"] = true;
         }},
        {"§3", Severity::damage, [](Json& p) { p["Allow-Fetch.txt"] = "false"; }},
        {"§3", Severity::damage, [](Json& p) { p["Serialization"] = "maybe"; }},
        {"§3", Severity::damage, [](Json& p) { p["Bag-Info"] = Json::array(); }},
        {"§5", Severity::damage,
         [](Json& p) {
             p["Bag-Info"] = {{"Contact-Name", true}};
         }},
        {"§5", Severity::damage,
         [](Json& p) {
             p["Bag-Info"] = {{"Contact-Name", {{"values", "Ada"}}}};
         }},
        {"§5", Severity::warning,
         [](Json& p) {
             p["Bag-Info"] = {{"BagIt-Profile-Identifier", {{"required", true}}}};
         }},
        {"§5", Severity::note,
         [](Json& p) {
             p["Bag-Info"] = {{"Contact-Name", {{"recommended", true}}}};
         }},
        {"§3", Severity::note, [](Json& p) { p["Bagit-Info"] = Json::object(); }},
    };
    for (const Broken& c : cases) {
        Json profile = least();
        c.change(profile);
        const auto findings = findings_of(profile.dump());
        INFO(c.rule << ": " << profile.dump());
        CHECK(any(findings, c.severity));
        CHECK(findings.size() == 1);
    }
    // P-3: where archives are forbidden anyway, none needs to be named.
    Json forbidden = least();
    forbidden.erase("Accept-Serialization");
    forbidden["Serialization"] = "forbidden";
    CHECK(findings_of(forbidden.dump()).empty());
}

TEST_CASE("what is no profile at all is refused") {
    for (const std::string& text :
         {std::string(), std::string("{"), std::string("[]"), std::string("null"),
          std::string("{\"a\": \xFF}"), std::string(100'000, '['),
          std::string("{\"a\":") + std::string(100, '{'), std::string("{\"a\": 1} {}")}) {
        std::vector<Finding> findings;
        CHECK_FALSE(bagit::parse_profile(text, "p.json", findings));
        CHECK(findings.size() == 1);
    }
}

TEST_CASE("bags that do not do what a profile asks for") {
    struct Demand {
        const char* key;
        std::function<void(Json&)> profile;
        std::function<void(BagBuilder&)> bag;
        std::string path;  ///< of the one finding
    };
    const auto nothing = [](auto&) {};
    const std::vector<Demand> cases{
        {"Accept-BagIt-Version",
         [](Json& p) {
             p["Accept-BagIt-Version"] = {"0.97", "0.96"};
         },
         nothing, "bagit.txt"},
        {"Serialization", [](Json& p) { p["Serialization"] = "required"; }, nothing, ""},
        {"identifier", nothing, [](BagBuilder& b) { replace(b.info(), "photo-job-v1", "other"); },
         "bag-info.txt"},
        {"identifier", nothing, [](BagBuilder& b) { b.files.erase("bag-info.txt"); },
         "bag-info.txt"},
        {"Bag-Info required", [](Json& p) { p["Bag-Info"]["Contact-Name"]["required"] = true; },
         nothing, "bag-info.txt"},
        {"Bag-Info values",
         [](Json& p) {
             p["Bag-Info"]["Source-Organization"]["values"] = {"Another", "Third"};
         },
         nothing, "bag-info.txt"},
        {"Bag-Info values, case",
         [](Json& p) { p["Bag-Info"]["Source-Organization"]["values"] = {"example studio"}; },
         nothing, "bag-info.txt"},
        {"Bag-Info repeatable",
         [](Json& p) { p["Bag-Info"]["Contact-Name"]["repeatable"] = false; },
         [](BagBuilder& b) { b.info() += "Contact-Name: A\nContact-Name: B\n"; }, "bag-info.txt"},
        {"Manifests-Required",
         [](Json& p) {
             p["Manifests-Required"] = {"sha512", "md5"};
         },
         nothing, "manifest-md5.txt"},
        {"Manifests-Allowed", [](Json& p) { p["Manifests-Allowed"] = {"sha256"}; }, nothing,
         "manifest-sha512.txt"},
        {"Tag-Manifests-Required", [](Json& p) { p["Tag-Manifests-Required"] = {"sha256"}; },
         nothing, "tagmanifest-sha256.txt"},
        {"Tag-Manifests-Allowed", [](Json& p) { p["Tag-Manifests-Allowed"] = Json::array(); },
         nothing, "tagmanifest-sha512.txt"},
        {"Allow-Fetch.txt", [](Json& p) { p["Allow-Fetch.txt"] = false; },
         [](BagBuilder& b) {
             b.files["fetch.txt"] = "https://example.org/a - data/originals/a.raw\n";
         },
         "fetch.txt"},
        {"Fetch.txt-Required", [](Json& p) { p["Fetch.txt-Required"] = true; }, nothing,
         "fetch.txt"},
        {"Data-Empty", [](Json& p) { p["Data-Empty"] = true; }, nothing, "data"},
        {"Tag-Files-Required", [](Json& p) { p["Tag-Files-Required"] = {"notes/plan.txt"}; },
         nothing, "notes/plan.txt"},
        {"Tag-Files-Allowed", [](Json& p) { p["Tag-Files-Allowed"] = {"*.jsonl"}; }, nothing,
         "recovery/000.rec"},
        {"Payload-Files-Required", [](Json& p) { p["Payload-Files-Required"] = {"data/print/"}; },
         nothing, "data/print/"},
        {"Payload-Files-Required",
         [](Json& p) { p["Payload-Files-Required"] = {"data/originals"}; }, nothing,
         "data/originals"},
        {"Payload-Files-Allowed",
         [](Json& p) { p["Payload-Files-Allowed"] = {"data/originals/*"}; }, nothing,
         "data/web/a.jpg"},
    };
    for (const Demand& c : cases) {
        Json profile = least();
        BagBuilder bag = good_bag();
        c.profile(profile);
        c.bag(bag);
        bag.prove();
        const auto findings = judged(profile, bag);
        INFO(c.key << ": " << profile.dump());
        REQUIRE(findings.size() == 1);
        CHECK(findings[0].path == c.path);
        CHECK(findings[0].severity == Severity::damage);
    }
}

TEST_CASE("bags that do what a profile asks for in another way") {
    const auto fits = [](
                          const std::function<void(Json&)>& change,
                          const std::function<void(BagBuilder&)>& spoil = [](BagBuilder&) {}) {
        Json profile = least();
        BagBuilder bag = good_bag();
        change(profile);
        spoil(bag);
        bag.seal();
        INFO(profile.dump());
        CHECK(judged(profile, bag).empty());
    };
    // Labels blind to case, algorithm names normalised (RFC 8493 §2.2.2-8, §2.4-3).
    fits([](Json& p) { p["Bag-Info"]["bagging-date"]["required"] = true; });
    fits([](Json& p) { p["Manifests-Required"] = {"SHA-512"}; });
    fits([](Json& p) { p["Bag-Info"]["Source-Organization"]["values"] = Json::array(); });
    // BP §B-2: several profiles.
    fits([](Json&) {},
         [](BagBuilder& b) {
             b.info() = "BagIt-Profile-Identifier: https://example.org/x.json\n" + b.info();
         });
    // Data-Empty allows one file of no byte.
    fits([](Json& p) { p["Data-Empty"] = true; },
         [](BagBuilder& b) {
             b.files.erase("data/originals/a.raw");
             b.files["data/web/a.jpg"] = "";
             replace(b.info(), "6.2", "0.1");
         });
    // The standard's own files need not be among those allowed.
    fits([](Json& p) { p["Tag-Files-Allowed"] = {"events.jsonl", "recovery/*"}; });
}

TEST_CASE("kinds of archives that a profile takes") {
    Json profile = least();
    CHECK(judged(profile, good_bag(), "application/x-tar").empty());
    CHECK(judged(profile, good_bag(), "application/gzip").size() == 1);
    profile["Accept-Serialization"] = {"application/tar", "application/x-gzip"};
    CHECK(judged(profile, good_bag(), "application/x-tar").empty());
    CHECK(judged(profile, good_bag(), "application/gzip").empty());
    CHECK(judged(profile, good_bag(), "application/zip").size() == 1);
    CHECK(judged(profile, good_bag()).empty());
    profile["Serialization"] = "forbidden";
    CHECK(judged(profile, good_bag(), "application/x-tar").size() == 1);
    CHECK(judged(profile, good_bag()).empty());
    // A fatal mismatch ends the judgement (BP §2).
    profile["Manifests-Required"] = {"md5"};
    CHECK(judged(profile, good_bag(), "application/x-tar").size() == 1);
}

// RFC 8493 §3 alone says what complete and valid mean.
TEST_CASE("a profile changes neither complete nor valid") {
    bagit::CheckOptions options;
    options.look = [](const bagit::Bag&, std::string_view, const auto& report) {
        report(found(FindingKind::profile_mismatch, "", "asked for"));
    };
    const TempFolder folder;
    const auto report =
        bagit::check_folder(io::posix_file_system(), good_bag().write(folder), options);
    CHECK(report.valid == true);
    CHECK(find(report, FindingKind::profile_mismatch));
}

TEST_CASE("patterns of a profile") {
    CHECK(bagit::matches_pattern("data/web/a.jpg", "data/web/*"));
    CHECK(bagit::matches_pattern("data/web/b/a.jpg", "data/*/*.jpg"));
    CHECK(bagit::matches_pattern("data/web/", "data/web/*"));
    CHECK(bagit::matches_pattern("anything/at/all", "*"));
    CHECK(bagit::matches_pattern("", "*"));
    CHECK(bagit::matches_pattern("a*b", "a*b"));
    CHECK(bagit::matches_pattern("aXbXc", "a*b*c"));
    CHECK_FALSE(bagit::matches_pattern("data/web", "data/web/*"));
    CHECK_FALSE(bagit::matches_pattern("a.jpg", "?.jpg"));
    CHECK_FALSE(bagit::matches_pattern("a.jpeg", "*.jpg"));
    CHECK_FALSE(bagit::matches_pattern("a", ""));
    // Many stars end soon.
    std::string stars;
    for (int i = 0; i < 100; ++i)
        stars += "a*";
    CHECK_FALSE(bagit::matches_pattern(std::string(20'000, 'a'), stars + "b"));
}

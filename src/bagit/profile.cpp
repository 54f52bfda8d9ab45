#include "glassine/bagit/profile.h"

#include "profile_reader.h"
#include "words.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

namespace glassine::bagit {
namespace {

using Json = ProfileReader::Json;

/// Nesting that no profile needs; deeper text is refused before it is built.
constexpr int deepest = 16;

class Parsing {
  public:
    Parsing(const Json& json, std::string file, std::vector<Finding>& findings)
        : top_(json, "", file, findings), file_(std::move(file)), findings_(findings) {}

    Profile run() {
        read_info();
        read_tags();
        read_lists();
        profile_.fetch_allowed = top_.flag("Allow-Fetch.txt", true);
        profile_.fetch_required = top_.flag("Fetch.txt-Required", false);
        profile_.data_empty = top_.flag("Data-Empty", false);
        read_serialization();
        check_rules();
        top_.tell_others({"BagIt-Profile-Info", "Bag-Info", "Manifests-Required",
                          "Manifests-Allowed", "Allow-Fetch.txt", "Fetch.txt-Required",
                          "Data-Empty", "Serialization", "Accept-Serialization",
                          "Accept-BagIt-Version", "Tag-Manifests-Required", "Tag-Manifests-Allowed",
                          "Tag-Files-Required", "Tag-Files-Allowed", "Payload-Files-Required",
                          "Payload-Files-Allowed"});
        return std::move(profile_);
    }

  private:
    /// BP §4, P-1.
    void read_info() {
        const Json* object = top_.object("BagIt-Profile-Info");
        if (object == nullptr) {
            top_.problem(Severity::damage, "BagIt-Profile-Info is missing");
            return;
        }
        ProfileReader info(*object, "BagIt-Profile-Info", file_, findings_);
        profile_.identifier = required(info, "BagIt-Profile-Identifier");
        profile_.version = required(info, "Version");
        profile_.issuer = required(info, "Source-Organization");
        profile_.description = required(info, "External-Description");
        if (const std::string told = info.text("BagIt-Profile-Version"); !told.empty())
            profile_.specification = told;
        else
            info.problem(Severity::warning,
                         "BagIt-Profile-Info.BagIt-Profile-Version is missing; read as 1.1.0");
        info.tell_others({"BagIt-Profile-Identifier", "BagIt-Profile-Version", "Version",
                          "Source-Organization", "External-Description", "Contact-Name",
                          "Contact-Phone", "Contact-Email"});
    }

    static std::string required(ProfileReader& info, const char* key) {
        std::string value = info.text(key);
        if (value.empty())
            info.problem(Severity::damage, fmt::format("BagIt-Profile-Info.{} is missing", key));
        return value;
    }

    /// BP §5.
    void read_tags() {
        const Json* object = top_.object("Bag-Info");
        if (object == nullptr) return;
        for (const auto& [label, value] : object->items()) {
            const std::string within = "Bag-Info." + excerpt(label);
            if (!value.is_object()) {
                top_.problem(Severity::damage, within + " is no object; taken as not there");
                continue;
            }
            if (label == profile_label)
                top_.problem(Severity::warning,
                             within + " is asked for of every bag anyway and should not be listed");
            ProfileReader tag(value, within, file_, findings_);
            Profile::Tag read{label, tag.flag("required", false), tag.flag("repeatable", true),
                              tag.list("values")};
            (void)tag.text("description");
            tag.tell_others({"required", "repeatable", "values", "description"});
            profile_.tags.push_back(std::move(read));
        }
    }

    void read_lists() {
        profile_.manifests_required = algorithms("Manifests-Required");
        profile_.manifests_allowed = allowed(&Parsing::algorithms, "Manifests-Allowed");
        profile_.tag_manifests_required = algorithms("Tag-Manifests-Required");
        profile_.tag_manifests_allowed = allowed(&Parsing::algorithms, "Tag-Manifests-Allowed");
        profile_.accepted_versions = top_.list("Accept-BagIt-Version");
        profile_.tag_files_required = top_.list("Tag-Files-Required");
        profile_.tag_files_allowed = allowed(&Parsing::paths, "Tag-Files-Allowed");
        profile_.payload_files_required = top_.list("Payload-Files-Required");
        profile_.payload_files_allowed = allowed(&Parsing::paths, "Payload-Files-Allowed");
    }

    Profile::Names paths(const char* key) { return top_.list(key); }
    Profile::Names algorithms(const char* key) {
        Profile::Names names = top_.list(key);
        for (std::string& name : names)
            name = digest::normalised(name);
        return names;
    }
    Profile::Allowed allowed(Profile::Names (Parsing::*list)(const char*), const char* key) {
        if (!top_.has(key)) return std::nullopt;
        return (this->*list)(key);
    }

    void read_serialization() {
        profile_.accepted_archives = top_.list("Accept-Serialization");
        const std::string word = top_.text("Serialization");
        if (word == "forbidden")
            profile_.serialization = Profile::Serialization::forbidden;
        else if (word == "required")
            profile_.serialization = Profile::Serialization::required;
        else if (!word.empty() && word != "optional")
            top_.problem(Severity::damage,
                         fmt::format("Serialization is “{}”, and can be forbidden, required or "
                                     "optional; taken as optional",
                                     excerpt(word)));
    }

    void check_rules() {
        if (top_.lists_nothing("Accept-BagIt-Version"))
            top_.problem(Severity::damage, "Accept-BagIt-Version names no version");  // P-2
        if (top_.lists_nothing("Accept-Serialization") &&
            profile_.serialization != Profile::Serialization::forbidden)
            top_.problem(Severity::warning,  // P-3
                         "Accept-Serialization names no kind of archive; every kind is accepted");
        check_within("Manifests", profile_.manifests_required, profile_.manifests_allowed);
        check_within("Tag-Manifests", profile_.tag_manifests_required,
                     profile_.tag_manifests_allowed);
        check_covered("Tag-Files", profile_.tag_files_required, profile_.tag_files_allowed);
        check_covered("Payload-Files", profile_.payload_files_required,
                      profile_.payload_files_allowed);
        for (const std::string& path : profile_.tag_files_required)
            if (path == bag_info_file || manifest_name(path))
                top_.problem(Severity::warning,  // P-6
                             fmt::format("Tag-Files-Required names {}, which is asked for "
                                         "elsewhere",
                                         excerpt(path)));
        if (profile_.fetch_required && !profile_.fetch_allowed)
            top_.problem(Severity::damage,  // P-7
                         "Fetch.txt-Required and Allow-Fetch.txt contradict each other");
    }

    /// P-4.
    void check_within(std::string_view what, const Profile::Names& required,
                      const Profile::Allowed& allowed) {
        if (!allowed) return;
        for (const std::string& name : required)
            if (std::ranges::find(*allowed, name) == allowed->end())
                top_.problem(Severity::damage,
                             fmt::format("{0}-Required names {1}, and {0}-Allowed does not", what,
                                         excerpt(name)));
    }

    /// P-5. A folder is covered when what lies in it may be.
    void check_covered(std::string_view what, const Profile::Names& required,
                       const Profile::Allowed& allowed) {
        if (!allowed) return;
        for (const std::string& path : required) {
            const bool covered = std::ranges::any_of(*allowed, [&](const std::string& pattern) {
                return matches_pattern(path, pattern) ||
                       (path.ends_with('/') && pattern.starts_with(path));
            });
            if (!covered)
                top_.problem(Severity::damage,
                             fmt::format("{0}-Required names {1}, and no entry of {0}-Allowed "
                                         "takes it in",
                                         what, excerpt(path)));
        }
    }

    ProfileReader top_;
    std::string file_;
    std::vector<Finding>& findings_;
    Profile profile_;
};

bool too_deep(std::string_view json) {
    int depth = 0;
    bool in_text = false;
    for (std::size_t i = 0; i < json.size(); ++i) {
        const char c = json[i];
        if (in_text) {
            if (c == '\\') ++i;
            in_text = c != '"';
        } else if (c == '"') {
            in_text = true;
        } else if (c == '{' || c == '[') {
            if (++depth > deepest) return true;
        } else if (c == '}' || c == ']') {
            --depth;
        }
    }
    return false;
}

}  // namespace

std::optional<Profile> parse_profile(std::string_view json, const std::string& name,
                                     std::vector<Finding>& findings) {
    const auto refuse = [&](const char* why) {
        findings.push_back(found(FindingKind::profile_malformed, name, why));
        return std::nullopt;
    };
    if (too_deep(json)) return refuse("it is nested more deeply than any profile");
    const Json parsed = Json::parse(json, nullptr, false);
    if (parsed.is_discarded()) return refuse("it is no JSON");
    if (!parsed.is_object()) return refuse("it is no JSON object");
    return Parsing(parsed, name, findings).run();
}

bool matches_pattern(std::string_view path, std::string_view pattern) {
    std::size_t p = 0;
    std::size_t star = std::string_view::npos;  // the last one met in the pattern
    std::size_t taken = 0;                      // up to here it has taken the path
    for (std::size_t at = 0; at < path.size();) {
        if (p < pattern.size() && pattern[p] == '*') {
            star = p++;
            taken = at;
        } else if (p < pattern.size() && pattern[p] == path[at]) {
            ++p;
            ++at;
        } else if (star != std::string_view::npos) {
            p = star + 1;
            at = ++taken;
        } else {
            return false;
        }
    }
    while (p < pattern.size() && pattern[p] == '*')
        ++p;
    return p == pattern.size();
}

}  // namespace glassine::bagit

#include "glassine/bagit/rules.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <utility>

namespace glassine::bagit {
namespace {

constexpr Weight none = std::nullopt;
constexpr Weight note = Severity::note;
constexpr Weight warning = Severity::warning;
constexpr Weight damage = Severity::damage;

/// draft-kunze-bagit-00.
constexpr Rules first_draft() {
    Rules r{};
    r.version = "0.93";
    r.percent_encoded_paths = false;
    r.base64_checksums = true;
    r.star_marker = warning;
    r.backslash_separator = warning;
    r.fetch_leading_slash = false;
    r.every_manifest_lists_all = true;
    r.listed_twice = warning;
    r.algorithm_twice = warning;
    r.tag_file_in_payload_manifest = none;
    r.foreign_in_tag_manifest = warning;
    r.payload_manifest_unproven = none;
    r.tag_file_unproven = none;
    r.empty_line = warning;
    r.checksum_companions = true;
    r.metadata_file = "package-info.txt";
    r.loose_colon = true;
    r.repeated_element = note;
    r.repeated_single_element = none;
    r.has_oxum = false;
    r.declaration_form = warning;
    r.declaration_mark = warning;
    r.needless_mark = warning;
    r.tag_directory = warning;
    r.tag_name_not_txt = none;
    r.manifest_name_form = warning;
    r.fetched_unlisted = warning;
    r.weak_only = note;
    return r;
}

/// draft-kunze-bagit-01.
constexpr Rules rules_094() {
    Rules r = first_draft();
    r.version = "0.94";
    r.base64_checksums = false;
    return r;
}

/// draft-kunze-bagit-02: tag manifests take the place of companions; at least one manifest lists a
/// file.
constexpr Rules rules_095() {
    Rules r = rules_094();
    r.version = "0.95";
    r.every_manifest_lists_all = false;
    r.tag_file_in_payload_manifest = warning;
    r.checksum_companions = false;
    return r;
}

/// draft-kunze-bagit-03 to -05; what only -05 forbids is noted or warned about.
constexpr Rules rules_096() {
    Rules r = rules_095();
    r.version = "0.96";
    r.star_marker = note;
    r.backslash_separator = damage;
    r.fetch_leading_slash = true;
    r.algorithm_twice = note;
    r.metadata_file = "bag-info.txt";
    r.has_oxum = true;
    r.tag_directory = note;
    r.tag_name_not_txt = note;
    return r;
}

/// draft-kunze-bagit-06 to -14.
constexpr Rules rules_097() {
    Rules r = rules_096();
    r.version = "0.97";
    r.algorithm_twice = damage;
    r.tag_file_in_payload_manifest = damage;
    r.repeated_element = none;
    r.declaration_form = damage;
    r.declaration_mark = damage;
    r.tag_directory = none;
    r.tag_name_not_txt = none;
    return r;
}

/// RFC 8493.
constexpr Rules rules_10() {
    Rules r = rules_097();
    r.version = "1.0";
    r.percent_encoded_paths = true;
    r.star_marker = damage;
    r.fetch_leading_slash = false;
    r.every_manifest_lists_all = true;
    r.listed_twice = damage;
    r.foreign_in_tag_manifest = damage;
    r.payload_manifest_unproven = damage;
    r.tag_file_unproven = warning;
    r.empty_line = damage;
    r.loose_colon = false;
    r.repeated_single_element = warning;
    r.needless_mark = damage;
    r.manifest_name_form = damage;
    r.fetched_unlisted = damage;
    r.weak_only = warning;
    return r;
}

constexpr std::array all_rules{first_draft(), rules_094(), rules_095(),
                               rules_096(),   rules_097(), rules_10()};

using Number = std::pair<unsigned, unsigned>;

std::optional<unsigned> digits(std::string_view text) {
    unsigned value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (text.empty() || error != std::errc{} || end != text.data() + text.size())
        return std::nullopt;
    return value;
}

std::optional<Number> version_number(std::string_view version) {
    const std::size_t dot = version.find('.');
    if (dot == std::string_view::npos) return std::nullopt;
    const auto major = digits(version.substr(0, dot));
    const auto minor = digits(version.substr(dot + 1));
    if (!major || !minor) return std::nullopt;
    return Number(*major, *minor);
}

}  // namespace

bool known_version(std::string_view declared_version) {
    return std::ranges::find(all_rules, declared_version, &Rules::version) != all_rules.end();
}

bool is_version(std::string_view text) {
    const std::size_t dot = text.find('.');
    const auto all_digits = [](std::string_view part) {
        return !part.empty() &&
               std::ranges::all_of(part, [](char c) { return c >= '0' && c <= '9'; });
    };
    return dot != std::string_view::npos && all_digits(text.substr(0, dot)) &&
           all_digits(text.substr(dot + 1));
}

const Rules& rules_for(std::string_view declared_version) {
    const auto exact = std::ranges::find(all_rules, declared_version, &Rules::version);
    if (exact != all_rules.end()) return *exact;
    const auto declared = version_number(declared_version);
    if (!declared || *declared >= Number(1, 0)) return all_rules[5];
    if (*declared < Number(0, 93)) return all_rules[0];
    return all_rules[std::min<std::size_t>(declared->second - 93, 4)];
}

}  // namespace glassine::bagit

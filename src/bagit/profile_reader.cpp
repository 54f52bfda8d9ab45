#include "profile_reader.h"

#include "words.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

namespace glassine::bagit {

std::string ProfileReader::shown(std::string_view key) const {
    return within_.empty() ? excerpt(key) : fmt::format("{}.{}", within_, excerpt(key));
}

void ProfileReader::problem(Severity severity, std::string detail) {
    findings_.push_back(found(FindingKind::profile_malformed, severity, file_, std::move(detail)));
}

void ProfileReader::wrong_type(const char* key, std::string_view wanted) {
    problem(Severity::damage, fmt::format("{} is no {}; taken as not there", shown(key), wanted));
}

bool ProfileReader::lists_nothing(const char* key) const {
    const auto at = object_.find(key);
    return at == object_.end() || (at->is_array() && at->empty());
}

std::string ProfileReader::text(const char* key) {
    const auto at = object_.find(key);
    if (at == object_.end()) return {};
    if (at->is_string()) return at->get<std::string>();
    wrong_type(key, "text");
    return {};
}

bool ProfileReader::flag(const char* key, bool otherwise) {
    const auto at = object_.find(key);
    if (at == object_.end()) return otherwise;
    if (at->is_boolean()) return at->get<bool>();
    wrong_type(key, "true or false");
    return otherwise;
}

std::vector<std::string> ProfileReader::list(const char* key) {
    const auto at = object_.find(key);
    if (at == object_.end()) return {};
    const auto is_text = [](const Json& value) { return value.is_string(); };
    if (at->is_array() && std::ranges::all_of(*at, is_text))
        return at->get<std::vector<std::string>>();
    wrong_type(key, "list of texts");
    return {};
}

const ProfileReader::Json* ProfileReader::object(const char* key) {
    const auto at = object_.find(key);
    if (at == object_.end()) return nullptr;
    if (at->is_object()) return &*at;
    wrong_type(key, "object");
    return nullptr;
}

void ProfileReader::tell_others(std::initializer_list<std::string_view> known) {
    std::vector<std::string> others;
    for (const auto& [key, value] : object_.items())
        if (std::ranges::find(known, key) == known.end()) others.push_back(shown(key));
    if (others.empty()) return;
    const std::size_t count = others.size();
    others.resize(std::min<std::size_t>(count, 5));
    problem(Severity::note,
            fmt::format("{} not known to the specification and {} passed over: {}{}",
                        count == 1 ? "a key is" : "keys are", count == 1 ? "was" : "were",
                        listed(others), count > others.size() ? ", …" : ""));
}

}  // namespace glassine::bagit

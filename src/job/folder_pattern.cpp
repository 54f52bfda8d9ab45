#include "folder_pattern.h"

#include "folder_date.h"
#include "glassine/base/text.h"

#include <algorithm>
#include <array>
#include <set>

namespace glassine::job {
namespace {

constexpr std::array<std::string_view, 5> fields{"{date}", "{clients}", "{about}", "{job_number}",
                                                 "{any}"};

std::string_view field_at_front(std::string_view pattern) {
    for (const std::string_view field : fields)
        if (pattern.starts_with(field)) return field;
    return {};
}

void keep(FolderReading& reading, std::string_view field, std::string_view value) {
    if (field == "{clients}") reading.clients = clients_in(std::string(value));
    if (field == "{about}") reading.about = text::trim(value);
    if (field == "{job_number}") reading.job_number = text::trim(value);
}

/// Tries the shortest text for each field first.
bool matches(std::string_view pattern, std::string_view name, DateOrder order,
             FolderReading& reading) {
    if (pattern.empty()) return name.empty();
    const std::string_view field = field_at_front(pattern);
    if (field.empty())
        return !name.empty() && name.front() == pattern.front() &&
               matches(pattern.substr(1), name.substr(1), order, reading);
    const std::string_view rest = pattern.substr(field.size());
    if (field == "{date}") {
        const auto date = date_at_front(name, order);
        if (!date || !date->date || !matches(rest, name.substr(date->length), order, reading))
            return false;
        reading.date = *date->date;
        return true;
    }
    for (std::size_t length = 1; length <= name.size(); ++length) {
        if (!matches(rest, name.substr(length), order, reading)) continue;
        keep(reading, field, name.substr(0, length));
        return true;
    }
    return false;
}

}  // namespace

std::optional<FolderReading> match_pattern(std::string_view pattern, std::string_view name,
                                           DateOrder order) {
    FolderReading reading;
    if (!matches(pattern, name, order, reading)) return std::nullopt;
    if (reading.clients.empty() || reading.about.empty()) return std::nullopt;
    return reading;
}

std::string pattern_problem(std::string_view pattern) {
    std::set<std::string_view> seen;
    bool after_field = false;
    while (!pattern.empty()) {
        const std::string_view field = field_at_front(pattern);
        if (field.empty()) {
            if (pattern.front() == '{' || pattern.front() == '}')
                return "the fields are {date}, {clients}, {about}, {job_number} and {any}";
            after_field = false;
            pattern.remove_prefix(1);
            continue;
        }
        if (after_field) return "two fields need some text between them";
        if (field != "{any}" && !seen.insert(field).second) return "it has a field twice";
        after_field = true;
        pattern.remove_prefix(field.size());
    }
    for (const std::string_view field : {"{date}", "{clients}", "{about}"})
        if (!seen.contains(field)) return "it needs {date}, {clients} and {about}";
    return "";
}

}  // namespace glassine::job

#include "glassine/job/name.h"

#include "glassine/base/error.h"
#include "glassine/base/text.h"

#include <algorithm>

namespace glassine::job {
namespace {

constexpr std::size_t date_length = 10;
constexpr std::size_t separators = 2;

std::string written(std::string_view text, const std::string& what) {
    std::string part = text::portable_ascii(text);
    if (part.empty()) {
        throw Error(Cause::usage, "make the job's name", std::string(text),
                    what + " has no letter or digit that can be written in a name",
                    "give it at least one letter or digit");
    }
    return part;
}

/// At most `length` bytes, cut at a hyphen where there is one in the second half.
std::string shortened(std::string part, std::size_t length) {
    if (part.size() <= length) return part;
    const std::size_t hyphen = part.rfind('-', length);
    part.resize(hyphen != std::string::npos && hyphen >= length / 2 ? hyphen : length);
    while (part.ends_with('-'))
        part.pop_back();
    return part;
}

std::string joined(std::span<const std::string> clients) {
    if (clients.empty()) {
        throw Error(Cause::usage, "make the job's name", {}, "no client is given",
                    "name at least one client");
    }
    std::string all;
    for (std::size_t i = 0; i < clients.size(); ++i) {
        const std::string what =
            clients.size() == 1 ? "the client" : "client number " + std::to_string(i + 1);
        if (i > 0) all += '-';
        all += written(clients[i], what);
    }
    return all;
}

bool is_part(std::string_view text) {
    return !text.empty() && std::ranges::all_of(text, [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-';
    });
}

}  // namespace

std::string job_name(Date date, std::span<const std::string> clients,
                     std::string_view description) {
    std::string who = joined(clients);
    std::string what = written(description, "the description");
    // A short part leaves its room to the other one.
    const std::size_t room = longest_name - date_length - separators;
    const std::size_t what_keeps = std::min(what.size(), room / 2);
    who = shortened(std::move(who), room - what_keeps);
    what = shortened(std::move(what), room - who.size());
    return iso_date(date) + '_' + who + '_' + what;
}

std::optional<NameParts> parse_job_name(std::string_view name) {
    const std::size_t first = name.find('_');
    if (first == std::string_view::npos) return std::nullopt;
    const std::size_t second = name.find('_', first + 1);
    if (second == std::string_view::npos) return std::nullopt;
    const std::optional<Date> date = parse_date(name.substr(0, first));
    const std::string_view clients = name.substr(first + 1, second - first - 1);
    const std::string_view description = name.substr(second + 1);
    if (!date || !is_part(clients) || !is_part(description)) return std::nullopt;
    return NameParts{*date, std::string(clients), std::string(description)};
}

}  // namespace glassine::job

#include "glassine/job/folder_name.h"

#include "folder_date.h"
#include "folder_pattern.h"
#include "glassine/base/text.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

namespace glassine::job {
namespace {

/// Words for what a job was (common practice, no source).
constexpr std::array<std::string_view, 42> occasions{
    "wedding",      "weddings",  "engagement",  "party",      "birthday",   "portrait",
    "portraits",    "family",    "christening", "baptism",    "communion",  "confirmation",
    "graduation",   "prom",      "gala",        "concert",    "festival",   "conference",
    "headshot",     "headshots", "corporate",   "reception",  "ceremony",   "anniversary",
    "event",        "events",    "newborn",     "maternity",  "fashion",    "product",
    "products",     "regatta",   "rehearsal",   "exhibition", "interior",   "interiors",
    "architecture", "dinner",    "premiere",    "opening",    "tournament", "reportage"};

std::vector<std::string> split(std::string_view text, std::string_view between) {
    std::vector<std::string> parts;
    for (std::size_t at = 0; at <= text.size();) {
        const std::size_t end = std::min(text.find(between, at), text.size());
        parts.emplace_back(text.substr(at, end - at));
        at = end + between.size();
    }
    return parts;
}

/// With "|" for every `what`.
std::string barred(const std::string& text, std::string_view what) {
    return fmt::format("{}", fmt::join(split(text, what), "|"));
}

/// Without blanks, brackets and punctuation at the ends; runs of blanks become one.
std::string tidy(std::string_view text) {
    constexpr std::string_view loose = " \t_-.,;()[]";
    const std::size_t from = text.find_first_not_of(loose);
    if (from == std::string_view::npos) return "";
    const std::size_t to = text.find_last_not_of(loose);
    std::string out;
    for (const char c : text.substr(from, to - from + 1))
        if (c != ' ' || out.back() != ' ') out += c;
    return out;
}

std::vector<std::string> neat_parts(std::string_view text, std::string_view between) {
    std::vector<std::string> parts;
    for (const std::string& part : split(text, between))
        if (std::string neat = tidy(part); !neat.empty()) parts.push_back(std::move(neat));
    return parts;
}

/// The parts between bars; of a single one, those between commas.
std::vector<std::string> parts_of(const std::string& text) {
    std::vector<std::string> parts = neat_parts(text, "|");
    return parts.size() == 1 ? neat_parts(parts[0], ", ") : parts;
}

bool is_number(std::string_view text) {
    return !text.empty() && std::ranges::all_of(text, [](char c) { return c >= '0' && c <= '9'; });
}

class Reading {
  public:
    explicit Reading(const AdoptRules& rules) : rules_(rules) {}

    FolderReadingResult read(std::string_view path) {
        const std::vector<std::string> folders = split(path, "/");
        for (const std::string& pattern : rules_.patterns)
            if (auto reading = match_pattern(pattern, folders.back(), rules_.date_order))
                return {std::move(reading), ""};
        if (!find_date(folders)) return {std::nullopt, std::move(why_)};
        if (!find_parts()) return {std::nullopt, std::move(why_)};
        return {std::move(reading_), ""};
    }

  private:
    bool give_up(std::string why) {
        why_ = std::move(why);
        return false;
    }

    bool find_date(const std::vector<std::string>& folders) {
        const std::string& name = folders.back();
        std::vector<WrittenDate> dates = dates_in(name, rules_.date_order);
        if (dates.empty()) {
            const std::string above = folders.size() > 1 ? folders[folders.size() - 2] : "";
            const std::string top = folders.size() > 2 ? folders[folders.size() - 3] : "";
            auto found = date_with_parents(above, "", name, rules_.date_order);
            if (!found) found = date_with_parents(top, above, name, rules_.date_order);
            if (found) dates.push_back(*found);
        }
        if (dates.empty()) return give_up("its name tells no day");
        if (dates.size() > 1) return give_up("its name tells more than one day");
        if (!dates[0].date)
            return give_up("the day in its name has more than one reading, or is none");
        reading_.date = *dates[0].date;
        before_ = name.substr(0, dates[0].at);
        behind_ = name.substr(dates[0].at + dates[0].length);
        return true;
    }

    /// Separators of every kind become one.
    static std::string separated(std::string text) {
        for (const std::string_view between : {" - ", " \u2013 ", " \u2014 ", "_"})
            text = barred(text, between);
        return text;
    }

    bool find_parts() {
        const std::string before = tidy(before_);
        const std::string behind = tidy(behind_);
        const bool free = !before.empty() && !behind.empty();
        if (free && is_number(before))
            reading_.job_number = before;
        else if (free && before_.ends_with(' ') && !before_.ends_with("- ") &&
                 !before_.ends_with("\u2013 "))
            return give_up("the day stands in the middle of its name");
        std::vector<std::string> parts = parts_of(separated(
            reading_.job_number.empty() ? fmt::format("{}|{}", before_, behind_) : behind_));
        take_job_number(parts);
        if (parts.size() == 1) return split_words(parts[0]);
        if (parts.size() == 2) return two_parts(parts[0], parts[1]);
        return give_up(parts.empty() ? "its name tells neither client nor occasion"
                                     : "its name has more parts than client and occasion");
    }

    void take_job_number(std::vector<std::string>& parts) {
        const auto number = std::ranges::find_if(parts, is_number);
        if (number == parts.end() || !reading_.job_number.empty()) return;
        reading_.job_number = *number;
        parts.erase(number);
    }

    bool is_occasion(std::string_view word) const {
        const std::string folded = text::fold_case(word);
        return std::ranges::find(occasions, folded) != occasions.end() ||
               std::ranges::any_of(rules_.occasions, [&](const std::string& own) {
                   return text::fold_case(own) == folded;
               });
    }

    static std::vector<std::string> words_of(const std::string& text) {
        return split(text, text.find(' ') == std::string::npos ? "-" : " ");
    }

    bool names_occasion(const std::string& part) const {
        return std::ranges::any_of(words_of(part),
                                   [&](const std::string& word) { return is_occasion(word); });
    }

    bool two_parts(const std::string& first, const std::string& second) {
        const bool in_first = names_occasion(first);
        if (in_first == names_occasion(second))
            return give_up("its name does not tell client and occasion apart");
        return take(in_first ? second : first, in_first ? first : second);
    }

    /// "Holt wedding", "Wedding Holt & Brandvik": words for the occasion at one end only.
    bool split_words(const std::string& part) {
        const std::vector<std::string> words = words_of(part);
        const auto is_one = [&](const std::string& word) { return is_occasion(word); };
        const auto all = std::ranges::count_if(words, is_one);
        const auto front = std::ranges::find_if_not(words, is_one) - words.begin();
        const auto back = std::find_if_not(words.rbegin(), words.rend(), is_one) - words.rbegin();
        if (all == 0 || all == std::ssize(words) || (all != front && all != back))
            return give_up("its name does not tell client and occasion apart");
        const std::string between = part.find(' ') == std::string::npos ? "-" : " ";
        const auto cut = all == front ? front : std::ssize(words) - back;
        std::string first;
        std::string second;
        for (std::ptrdiff_t i = 0; i < std::ssize(words); ++i) {
            std::string& side = i < cut ? first : second;
            if (!side.empty()) side += between;
            side += words[static_cast<std::size_t>(i)];
        }
        return all == front ? take(second, first) : take(first, second);
    }

    bool take(const std::string& clients, const std::string& about) {
        reading_.clients = clients_in(clients);
        reading_.about = tidy(about);
        if (reading_.clients.empty() || reading_.about.empty())
            return give_up("its name does not tell client and occasion apart");
        return true;
    }

    const AdoptRules& rules_;
    FolderReading reading_;
    std::string before_;  ///< the date
    std::string behind_;
    std::string why_;
};

}  // namespace

std::vector<std::string> clients_in(std::string text) {
    for (const std::string_view between : {" & ", " + ", " and ", " und "})
        text = barred(text, between);
    std::vector<std::string> clients;
    for (const std::string& part : split(text, "|"))
        if (std::string neat = tidy(part); !neat.empty()) clients.push_back(std::move(neat));
    return clients;
}

FolderReadingResult read_folder_name(std::string_view path, const AdoptRules& rules) {
    return Reading(rules).read(path);
}

}  // namespace glassine::job

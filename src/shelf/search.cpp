#include "glassine/shelf/search.h"

#include "shelf/bag_grouping.h"
#include "shelf/search_words.h"
#include "shelf/word_match.h"

#include <algorithm>
#include <array>
#include <map>
#include <set>
#include <tuple>
#include <utility>

namespace glassine::shelf {

namespace {

constexpr std::size_t frames_shown = 5;
constexpr double good_match = 0.85;  ///< as good as a frame's name
constexpr double scattered = 0.7;    ///< the words stand in different frames

constexpr std::array months{"january", "february", "march",     "april",   "may",      "june",
                            "july",    "august",   "september", "october", "november", "december"};

std::vector<std::string> words_of(const BagFacts& bag) {
    std::string text = bag.name + ' ' + bag.description + ' ' + bag.number;
    for (const std::string& client : bag.clients)
        text += ' ' + client;
    if (bag.shoot_date) {
        text += ' ' + iso_date(*bag.shoot_date) + ' ';
        text += months[static_cast<unsigned>(bag.shoot_date->month()) - 1];
    }
    std::vector<std::string> words = search_words(text);
    std::sort(words.begin(), words.end());
    words.erase(std::unique(words.begin(), words.end()), words.end());
    return words;
}

/// The bags that have a frame with that word, or (letters only) with a word that begins so.
std::set<std::size_t> bags_with_frames(sql::Database& database, const BagGroups& groups,
                                       const std::string& word) {
    std::set<std::size_t> bags;
    // Words are of a-z and 0-9; the brace follows z.
    const std::string end = is_number(word) ? word : word + '{';
    auto query = database.query("SELECT DISTINCT bag_id FROM words WHERE word >= ? AND word <= ?",
                                word, end);
    while (query.next()) {
        const auto group = groups.of_row.find(query.integer(0));
        if (group != groups.of_row.end()) bags.insert(group->second);
    }
    return bags;
}

struct Candidate {
    std::size_t bag = 0;
    double sum = 0;
    unsigned matched = 0;
    std::vector<std::string> frame_words;  ///< those that only a frame explains
};

std::vector<Candidate> match_all(sql::Database& database, const BagGroups& groups,
                                 const std::vector<std::string>& asked) {
    std::vector<std::set<std::size_t>> by_frames;
    by_frames.reserve(asked.size());
    for (const std::string& word : asked) {
        by_frames.push_back(bags_with_frames(database, groups, word));
    }
    std::vector<Candidate> candidates;
    for (std::size_t i = 0; i < groups.bags.size(); ++i) {
        const std::vector<std::string> words = words_of(groups.bags[i]);
        Candidate candidate{i, 0, 0, {}};
        for (std::size_t k = 0; k < asked.size(); ++k) {
            double best = 0;
            for (const std::string& word : words)
                best = std::max(best, word_match(asked[k], word));
            if (best < good_match && by_frames[k].contains(i)) {
                best = good_match;
                candidate.frame_words.push_back(asked[k]);
            }
            candidate.sum += best;
            if (best > 0) ++candidate.matched;
        }
        if (candidate.matched > 0) candidates.push_back(std::move(candidate));
    }
    return candidates;
}

/// Only those that explain as many words as any, and at least half.
void keep_best(std::vector<Candidate>& candidates, std::size_t asked) {
    unsigned most = 0;
    for (const Candidate& candidate : candidates)
        most = std::max(most, candidate.matched);
    if (std::size_t{2} * most < asked) most = static_cast<unsigned>(asked) + 1;
    std::erase_if(candidates, [&](const Candidate& candidate) { return candidate.matched < most; });
}

bool has_words(const std::string& stem, const std::vector<std::string>& asked) {
    const std::vector<std::string> words = search_words(stem);
    return std::all_of(asked.begin(), asked.end(), [&](const std::string& word) {
        return std::any_of(words.begin(), words.end(), [&](const std::string& stands) {
            return stands == word || (!is_number(word) && stands.starts_with(word));
        });
    });
}

std::vector<std::string> frames_with(sql::Database& database, const std::vector<std::int64_t>& rows,
                                     const std::vector<std::string>& asked) {
    // Digits are never folded: they pass over most frames without a closer look.
    std::string pattern = "%";
    for (const std::string& word : asked) {
        if (is_number(word)) {
            pattern = "%" + word + "%";
            break;
        }
    }
    std::vector<std::string> frames;
    for (const std::int64_t row : rows) {
        auto query = database.query(
            "SELECT stem FROM bags JOIN frames ON frames.id BETWEEN first_frame AND last_frame "
            "WHERE bags.id = ? AND stem LIKE ? ORDER BY frames.id",
            row, pattern);
        while (frames.size() < frames_shown && query.next()) {
            std::string stem = query.text(0);
            const bool known = std::find(frames.begin(), frames.end(), stem) != frames.end();
            if (!known && has_words(stem, asked)) frames.push_back(std::move(stem));
        }
    }
    return frames;
}

bool goes_before(const SearchHit& a, const SearchHit& b) {
    if (a.score != b.score) return a.score > b.score;
    return std::tie(b.bag.shoot_date, a.bag.name) < std::tie(a.bag.shoot_date, b.bag.name);
}

}  // namespace

std::vector<SearchHit> find_bags(Register& reg, std::string_view words, std::size_t limit) {
    const std::vector<std::string> asked = search_words(words);
    if (asked.empty()) return {};
    sql::Database& database = reg.inside().database;
    const sql::Snapshot snapshot(database);
    BagGroups groups = load_groups(database);
    std::vector<Candidate> candidates = match_all(database, groups, asked);
    keep_best(candidates, asked.size());

    std::map<std::size_t, std::vector<std::int64_t>> rows;
    for (const auto& [row, group] : groups.of_row)
        rows[group].push_back(row);
    std::sort(candidates.begin(), candidates.end(), [&](const Candidate& a, const Candidate& b) {
        if (a.sum != b.sum) return a.sum > b.sum;
        return groups.bags[b.bag].shoot_date < groups.bags[a.bag].shoot_date;
    });
    if (candidates.size() > limit) candidates.resize(limit);

    std::vector<SearchHit> hits;
    for (const Candidate& candidate : candidates) {
        SearchHit hit{std::move(groups.bags[candidate.bag]),
                      candidate.sum / static_cast<double>(asked.size()),
                      {}};
        if (!candidate.frame_words.empty()) {
            hit.frames = frames_with(database, rows[candidate.bag], candidate.frame_words);
            if (hit.frames.empty()) hit.score *= scattered;
        }
        hits.push_back(std::move(hit));
    }
    std::stable_sort(hits.begin(), hits.end(), goes_before);
    return hits;
}

}  // namespace glassine::shelf

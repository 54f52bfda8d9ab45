#include "shelf/bag_grouping.h"

#include "shelf/seals.h"

#include <algorithm>
#include <span>
#include <tuple>
#include <utility>

namespace glassine::shelf {

namespace {

using CopyRows = std::span<CopyRow>;

/// The rows of one bag name.
struct Namesakes {
    std::vector<BagRow>& rows;
    std::vector<std::size_t> members;  ///< indices of `rows`
    std::map<std::int64_t, std::vector<CopyRow*>>& copies;
    const std::vector<SealWitness>* witnesses;

    bool same_payload(std::size_t a, std::size_t b) const {
        return rows[a].facts.payload_bytes == rows[b].facts.payload_bytes &&
               rows[a].facts.payload_files == rows[b].facts.payload_files;
    }

    bool share_volume(std::size_t a, std::size_t b) const {
        for (const CopyRow* one : copies[rows[a].id]) {
            for (const CopyRow* other : copies[rows[b].id]) {
                if (one->facts.volume == other->facts.volume) return true;
            }
        }
        return false;
    }

    bool refused(std::size_t row) const {
        return witnesses && is_accepted(*witnesses, rows[row].seal) == false;
    }

    /// The row whose place this refused one took; nothing if it may be another bag of that name.
    std::optional<std::size_t> displaced(std::size_t row) const {
        for (const std::size_t other : members) {
            if (other == row || refused(other)) continue;
            if (same_payload(row, other) || share_volume(row, other)) return other;
        }
        return std::nullopt;
    }

    /// The row that stands for this one's group: the first that belongs together with it.
    std::size_t leader(std::size_t row) const {
        for (const std::size_t other : members) {
            if (!refused(other) && rows[other].described && same_payload(row, other)) return other;
        }
        if (!rows[row].described) {
            for (const std::size_t other : members) {
                if (!refused(other) && rows[other].described) return other;
            }
            return members.front();
        }
        return row;
    }
};

/// Of several versions of one bag the last sealed one describes it.
bool describes_better(const BagRow& candidate, const BagRow& present) {
    return std::tie(candidate.facts.sealed, candidate.seal) >
           std::tie(present.facts.sealed, present.seal);
}

class Grouping {
  public:
    Grouping(std::vector<BagRow>& rows, CopyRows copies, const SealMap& seals)
        : rows_(rows), seals_(seals) {
        for (CopyRow& copy : copies)
            copies_[copy.bag_id].push_back(&copy);
    }

    BagGroups run() {
        std::map<std::string, std::vector<std::size_t>> by_name;
        for (std::size_t i = 0; i < rows_.size(); ++i)
            by_name[rows_[i].facts.name].push_back(i);
        for (auto& [name, members] : by_name)
            group(std::move(members));
        return finish();
    }

  private:
    struct Group {
        std::size_t describing;
        std::vector<std::size_t> members;
    };

    void group(std::vector<std::size_t> members) {
        const auto known = seals_.find(rows_[members.front()].facts.name);
        const Namesakes namesakes{rows_, std::move(members), copies_,
                                  known == seals_.end() ? nullptr : &known->second};
        std::map<std::size_t, std::size_t> places;
        for (const std::size_t row : namesakes.members) {
            std::size_t home = row;
            if (namesakes.refused(row)) {
                if (const auto other = namesakes.displaced(row)) {
                    home = *other;
                    mark_replaced(row);
                }
            }
            const std::size_t leader = namesakes.leader(home);
            const auto [place, is_new] = places.emplace(leader, groups_.size());
            if (is_new) groups_.push_back({leader, {}});
            groups_[place->second].members.push_back(row);
            if (home == row && rows_[row].described &&
                describes_better(rows_[row], rows_[groups_[place->second].describing])) {
                groups_[place->second].describing = row;
            }
        }
    }

    void mark_replaced(std::size_t row) {
        for (CopyRow* copy : copies_[rows_[row].id]) {
            if (copy->facts.is_there()) copy->facts.state = CopyState::replaced;
        }
    }

    BagFacts assemble(const Group& group) {
        BagFacts bag = rows_[group.describing].facts;
        for (const std::size_t row : group.members) {
            for (CopyRow* copy : copies_[rows_[row].id])
                bag.copies.push_back(copy->facts);
            // What was said when another copy was sealed holds as well: the longest of it.
            bag.promised_until = std::max(bag.promised_until, rows_[row].facts.promised_until);
            bag.keep_until = std::max(bag.keep_until, rows_[row].facts.keep_until);
        }
        std::sort(bag.copies.begin(), bag.copies.end(), [](const CopyFacts& a, const CopyFacts& b) {
            return std::tie(a.volume, a.seal, a.packed) < std::tie(b.volume, b.seal, b.packed);
        });
        return bag;
    }

    BagGroups finish() {
        const auto order = [this](const Group& a, const Group& b) {
            const BagFacts& one = rows_[a.describing].facts;
            const BagFacts& other = rows_[b.describing].facts;
            return std::tie(one.name, one.payload_bytes, one.payload_files) <
                   std::tie(other.name, other.payload_bytes, other.payload_files);
        };
        std::sort(groups_.begin(), groups_.end(), order);
        BagGroups result;
        for (const Group& group : groups_) {
            for (const std::size_t row : group.members) {
                result.of_row[rows_[row].id] = result.bags.size();
            }
            result.bags.push_back(assemble(group));
        }
        return result;
    }

    std::vector<BagRow>& rows_;
    const SealMap& seals_;
    std::map<std::int64_t, std::vector<CopyRow*>> copies_;
    std::vector<Group> groups_;
};

}  // namespace

BagGroups group_bags(std::vector<BagRow> rows, std::vector<CopyRow> copies, const SealMap& seals) {
    BagGroups groups = Grouping(rows, copies, seals).run();
    groups.copies = std::move(copies);
    return groups;
}

}  // namespace glassine::shelf

#include "shelf/bag_grouping.h"
#include "shelf/register_inside.h"

#include <map>
#include <string>
#include <utility>

namespace glassine::shelf {

namespace {

class RegisterHoldings : public Holdings {
  public:
    explicit RegisterHoldings(sql::Database& database) : database_(database) {
        const sql::Snapshot snapshot(database);
        std::map<std::string, VolumeFacts> volumes;
        for (VolumeFacts& volume : load_volumes(database)) {
            volumes.emplace(volume.identity.id, std::move(volume));
        }
        for (const CopyRow& row : load_groups(database).copies) {
            if (!row.facts.is_there()) continue;
            const VolumeFacts& volume = volumes[row.facts.volume];
            copies_[row.bag_id].push_back({row.facts.volume, volume.name(), volume.identity.place,
                                           volume.identity.purchase,
                                           row.facts.state == CopyState::whole, row.facts.proven});
        }
    }

    std::vector<Held> find(const digest::Value& content) override {
        std::vector<Held> held;
        auto query = database_.query(
            "SELECT bags.id, name, folder || stem || extension, rejected FROM files JOIN frames ON "
            "frames.id = frame_id JOIN forms ON forms.id = form_id JOIN bags ON bags.id = bag_id "
            "WHERE substr(digest, 1, 6) = substr(?1, 1, 6) AND digest = ?1",
            content.bytes());
        while (query.next()) {
            Held entry;
            entry.bag = query.text(1);
            entry.where = entry.bag + ": " + query.text(2);
            entry.by_proxy = query.integer(3) != 0;
            const auto copies = copies_.find(query.integer(0));
            if (copies != copies_.end()) entry.copies = copies->second;
            held.push_back(std::move(entry));
        }
        return held;
    }

  private:
    sql::Database& database_;
    std::map<std::int64_t, std::vector<HeldCopy>> copies_;
};

}  // namespace

std::unique_ptr<Holdings> register_holdings(sql::Database& database) {
    return std::make_unique<RegisterHoldings>(database);
}

}  // namespace glassine::shelf

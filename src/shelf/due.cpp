#include "glassine/shelf/due.h"

#include "glassine/base/text.h"
#include "glassine/shelf/audit_plan.h"
#include "glassine/shelf/standing.h"
#include "shelf/due_command.h"
#include "shelf/tally.h"

#include <algorithm>
#include <map>
#include <tuple>
#include <utility>

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace glassine::shelf {

namespace {

/// An item with what it is sorted by.
struct Weighed {
    DueItem item;
    unsigned copies_left;
};

/// Copies of one volume that are to be read, put together.
struct Reading {
    std::vector<std::string> bags;
    Date since;
    unsigned copies_left;
    bool own_error = false;  ///< at risk because of this volume, not of another copy

    void add(const std::string& bag, Date day, unsigned copies) {
        if (bags.empty() || day < since) since = day;
        copies_left = bags.empty() ? copies : std::min(copies_left, copies);
        if (bags.empty() || bags.back() != bag) bags.push_back(bag);
    }
};

class Collector {
  public:
    Collector(const Facts& facts, const Policy& policy, Date today)
        : facts_(facts), policy_(policy), today_(today), used_(used_bytes(facts)) {}

    std::vector<DueItem> run() {
        for (const BagFacts& bag : facts_.bags)
            look_at(bag);
        for (auto& [volume, reading] : at_risk_)
            say_at_risk(volume, reading);
        for (auto& [volume, reading] : overdue_)
            say_overdue(volume, reading);
        for (const VolumeFacts& volume : facts_.volumes)
            look_at(volume);
        return sorted();
    }

  private:
    static bool is_there(const CopyFacts& copy) { return copy.is_there(); }
    static bool counts(const CopyFacts& copy) { return copy.counts(); }

    void add(DueKind kind, Date since, std::string volume, std::vector<std::string> bags,
             std::string what, std::string command, unsigned copies_left) {
        items_.push_back({DueItem{kind, since, std::move(volume), std::move(bags), std::move(what),
                                  std::move(command)},
                          copies_left});
    }

    Date start_of(const BagFacts& bag) const {
        return bag.sealed ? *bag.sealed : bag.shoot_date.value_or(today_);
    }

    void look_at(const BagFacts& bag) {
        const bool let_go =
            std::all_of(bag.copies.begin(), bag.copies.end(),
                        [](const CopyFacts& copy) { return copy.state == CopyState::gone; });
        if (let_go) return;
        const std::vector<Placed> there = placed_copies(facts_, bag, is_there);
        const std::vector<Placed> counting = placed_copies(facts_, bag, counts);
        const unsigned left = tally_of(counting).copies;
        if (counting.empty()) {
            say_no_whole_copy(bag, there);
        } else {
            for (const Placed& copy : there) {
                if (!copy.copy->counts()) say_damaged(bag, copy, counting);
            }
            say_too_few(bag, there, counting);
        }
        for (const Placed& copy : counting)
            look_at_audit(bag, copy, left);
        for (const Placed& copy : counting)
            look_at_server(bag, copy, counting);
        look_at_keeping(bag, there);
    }

    void say_no_whole_copy(const BagFacts& bag, const std::vector<Placed>& there) {
        Date since = start_of(bag);
        for (const Placed& copy : there) {
            if (copy.copy->last_error) since = utc_date(*copy.copy->last_error);
        }
        if (there.empty()) {
            add(DueKind::no_whole_copy, since, {}, {bag.name},
                fmt::format("{}: no copy is left where the register expects one", bag.name),
                "glassine shelf find " + text::for_shell(bag.name), 0);
            return;
        }
        // An archive is not healed in place, but whole pictures can be had from it.
        std::vector<Placed> ordered = there;
        std::stable_partition(ordered.begin(), ordered.end(),
                              [](const Placed& placed) { return !placed.copy->packed; });
        const bool folder = !ordered.front().copy->packed;
        std::string command = fmt::format("glassine {} {}", folder ? "mend" : "restore",
                                          text::for_shell(place_of_copy(ordered.front())));
        for (std::size_t i = 1; i < ordered.size(); ++i) {
            command += " --from " + text::for_shell(place_of_copy(ordered[i]));
        }
        if (!folder) command += " --to FOLDER";
        add(DueKind::no_whole_copy, since, ordered.front().copy->volume, {bag.name},
            fmt::format("{}: not one whole copy is left; {} of it may heal one another", bag.name,
                        text::counted(there.size(), "damaged copy", "damaged copies")),
            std::move(command), 0);
    }

    void say_damaged(const BagFacts& bag, const Placed& copy, const std::vector<Placed>& counting) {
        const CopyFacts& facts = *copy.copy;
        const bool replaced = facts.state == CopyState::replaced;
        const auto best = std::max_element(
            counting.begin(), counting.end(),
            [](const Placed& a, const Placed& b) { return a.copy->proven < b.copy->proven; });
        const std::string here = text::for_shell(place_of_copy(copy));
        const std::string there = text::for_shell(place_of_copy(*best));
        const std::string trouble = facts.trouble.empty() ? "" : ": " + facts.trouble;
        const std::string remedy = facts.packed && !replaced
                                       ? "; an archive is not healed in place: move it aside, then "
                                         "carry a whole copy to where it stood"
                                       : "";
        // An exchanged copy is not healed but looked into: what stands there is another bag.
        const std::string command = replaced ? fmt::format("glassine audit {} {}", here, there)
                                    : facts.packed
                                        ? fmt::format("glassine migrate {} --to {}", there,
                                                      text::for_shell(folder_of_copy(copy)))
                                        : fmt::format("glassine mend {} --from {}", here, there);
        add(DueKind::damaged_copy, facts.last_error ? utc_date(*facts.last_error) : start_of(bag),
            facts.volume, {bag.name},
            fmt::format("{}: the copy on {} {}{}{}", bag.name, name_and_place(*copy.volume),
                        replaced ? "is not the one that was sealed" : "is damaged", trouble,
                        remedy),
            command, tally_of(counting).copies);
    }

    void say_too_few(const BagFacts& bag, const std::vector<Placed>& there,
                     const std::vector<Placed>& counting) {
        // Damaged copies are said already, and can be healed.
        const std::vector<std::string> missing = lacks(tally_of(there), policy_);
        if (missing.empty()) return;
        std::string what = fmt::format("{}: {}", bag.name, fmt::join(missing, ", "));
        for (const CopyFacts& copy : bag.copies) {
            if (copy.state != CopyState::missing) continue;
            const VolumeFacts* volume = facts_.volume(copy.volume);
            if (volume) what += fmt::format("; not found on {}", name_and_place(*volume));
        }
        const auto best = std::max_element(
            counting.begin(), counting.end(),
            [](const Placed& a, const Placed& b) { return a.copy->proven < b.copy->proven; });
        add(DueKind::too_few_copies, start_of(bag), {}, {bag.name}, std::move(what),
            fmt::format("glassine migrate {} --to {}", text::for_shell(place_of_copy(*best)),
                        destination_for(facts_, used_, bag, there, policy_, today_)),
            tally_of(counting).copies);
    }

    void look_at_audit(const BagFacts& bag, const Placed& copy, unsigned left) {
        const Risk risk = risk_of(facts_, bag, *copy.copy);
        if (risk != Risk::none) {
            Reading& reading = at_risk_[copy.copy->volume];
            reading.add(bag.name, error_day(bag, copy, risk), left);
            reading.own_error = reading.own_error || risk == Risk::medium;
            return;
        }
        if (!copy.copy->proven) {
            const Date made = copy.copy->made ? utc_date(*copy.copy->made) : start_of(bag);
            overdue_[copy.copy->volume].add(bag.name, made, left);
            return;
        }
        const auto day = audit_day(*copy.copy, policy_);
        if (day && *day <= today_) overdue_[copy.copy->volume].add(bag.name, *day, left);
    }

    Date error_day(const BagFacts& bag, const Placed& copy, Risk risk) const {
        std::optional<Timestamp> error;
        if (risk == Risk::medium) error = copy.volume->last_error;
        if (risk == Risk::job) {
            for (const CopyFacts& other : bag.copies) {
                if (&other != copy.copy && error < other.last_error) error = other.last_error;
            }
        }
        return error ? utc_date(*error) : today_;
    }

    void look_at_server(const BagFacts& bag, const Placed& copy,
                        const std::vector<Placed>& counting) {
        if (copy.volume->identity.kind != VolumeKind::server) return;
        if (policy_.server_keeps.is_never()) return;
        const Date day = later(start_of(bag), policy_.server_keeps);
        if (day > today_) return;
        std::vector<Placed> others;
        for (const Placed& other : counting) {
            if (other.copy != copy.copy && proven_lately(*other.copy, policy_, today_)) {
                others.push_back(other);
            }
        }
        const std::vector<std::string> missing = lacks(tally_of(others), policy_);
        const std::string here = text::for_shell(place_of_copy(copy));
        const std::string name = name_and_place(*copy.volume);
        if (missing.empty()) {
            add(DueKind::server_copy, day, copy.copy->volume, {bag.name},
                fmt::format("{}: the copy on {} may go, {} others are proven", bag.name, name,
                            others.size()),
                "glassine clear " + here, tally_of(counting).copies);
        } else {
            add(DueKind::server_copy, day, copy.copy->volume, {bag.name},
                fmt::format("{}: the copy on {} may move to the shelf; without it {} are proven",
                            bag.name, name, fmt::join(missing, ", ")),
                fmt::format("glassine migrate {} --to {}", here,
                            destination_for(facts_, used_, bag, counting, policy_, today_)),
                tally_of(counting).copies);
        }
    }

    void look_at_keeping(const BagFacts& bag, const std::vector<Placed>& there) {
        const auto day = let_go_after(bag, policy_);
        if (!day || *day >= today_ || there.empty()) return;
        const auto keep = keep_until(bag, policy_);
        const auto promised = promised_until(bag, policy_);
        const std::string promise =
            promised ? fmt::format("; promised until {}", iso_date(*promised)) : "";
        add(DueKind::keep_ended, *day, {}, {bag.name},
            fmt::format("{}: to be kept until {}{}; decide whether it stays", bag.name,
                        iso_date(*keep), promise),
            "glassine shelf find " + text::for_shell(bag.name), tally_of(there).copies);
    }

    std::string root_of(const std::string& volume) const {
        const VolumeFacts* facts = facts_.volume(volume);
        return text::for_shell(facts->root.empty() ? facts->name() : facts->root);
    }

    void say_at_risk(const std::string& volume, Reading& reading) {
        const std::string why = reading.own_error
                                    ? "an error was found on it"
                                    : "an error was found in other copies of its jobs";
        add(DueKind::audit_at_risk, reading.since, volume, reading.bags,
            fmt::format("{}: {}; read {} now", name_and_place(*facts_.volume(volume)), why,
                        text::counted(reading.bags.size(), "bag")),
            "glassine audit " + root_of(volume), reading.copies_left);
    }

    void say_overdue(const std::string& volume, Reading& reading) {
        add(DueKind::audit_overdue, reading.since, volume, reading.bags,
            fmt::format("{}: an audit of {} is due, since {}",
                        name_and_place(*facts_.volume(volume)),
                        text::counted(reading.bags.size(), "bag"), iso_date(reading.since)),
            "glassine audit " + root_of(volume), reading.copies_left);
    }

    void look_at(const VolumeFacts& volume) {
        const auto replacement = replacement_of(volume, policy_, today_);
        if (!replacement) return;
        std::vector<std::string> bags;
        for (const BagFacts& bag : facts_.bags) {
            for (const CopyFacts& copy : bag.copies) {
                const bool here = copy.volume == volume.identity.id && copy.is_there();
                if (here && (bags.empty() || bags.back() != bag.name)) bags.push_back(bag.name);
            }
        }
        if (bags.empty()) return;
        const std::string fresh =
            volume.identity.kind == VolumeKind::offsite ? "OFF-SITE" : "NEW-DRIVE";
        add(DueKind::replace_drive, replacement->since, volume.identity.id, std::move(bags),
            fmt::format("{} is to be replaced: {}", name_and_place(volume), replacement->why),
            fmt::format("glassine migrate {} --to {}", root_of(volume.identity.id), fresh), 0);
    }

    std::vector<DueItem> sorted() {
        std::sort(items_.begin(), items_.end(), [](const Weighed& a, const Weighed& b) {
            return std::tie(a.item.kind, a.copies_left, a.item.since, a.item.bags, a.item.volume) <
                   std::tie(b.item.kind, b.copies_left, b.item.since, b.item.bags, b.item.volume);
        });
        std::vector<DueItem> result;
        for (Weighed& weighed : items_)
            result.push_back(std::move(weighed.item));
        return result;
    }

    const Facts& facts_;
    const Policy& policy_;
    Date today_;
    std::map<std::string, std::uint64_t, std::less<>> used_;
    std::vector<Weighed> items_;
    std::map<std::string, Reading> at_risk_;
    std::map<std::string, Reading> overdue_;
};

}  // namespace

std::string_view word(DueKind kind) {
    switch (kind) {
        case DueKind::no_whole_copy:
            return "no-whole-copy";
        case DueKind::damaged_copy:
            return "damaged-copy";
        case DueKind::audit_at_risk:
            return "audit-at-risk";
        case DueKind::too_few_copies:
            return "too-few-copies";
        case DueKind::audit_overdue:
            return "audit-overdue";
        case DueKind::replace_drive:
            return "replace-drive";
        case DueKind::server_copy:
            return "server-copy";
        case DueKind::keep_ended:
            break;
    }
    return "keep-ended";
}

std::vector<DueItem> what_is_due(const Facts& facts, const Policy& policy, Date today) {
    return Collector(facts, policy, today).run();
}

}  // namespace glassine::shelf

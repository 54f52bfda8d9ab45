#include "glassine/base/version.h"
#include "glassine/report/shelf_pages.h"
#include "report/html.h"
#include "report/overview_style.h"

#include <algorithm>
#include <map>
#include <set>
#include <span>
#include <utility>

#include <fmt/ranges.h>

namespace glassine::report {
namespace {

using shelf::CopyState;

/// Symbol and word for a copy: what colour alone must not carry.
struct Sign {
    std::string_view symbol;
    std::string_view word;
    bool bad = false;
};
namespace sign {
constexpr Sign fresh{"●", "proven"};
constexpr Sign old{"◐", "proven, but long ago"};
constexpr Sign unproven{"○", "never proven"};
constexpr Sign damaged{"✕", "damaged", true};
constexpr Sign replaced{"✕", "replaced", true};
constexpr Sign missing{"?", "missing", true};
constexpr Sign retired{"–", "out of service"};
}  // namespace sign

Sign sign_of(const shelf::CopyFacts& copy, const ShelfOverview& shelf) {
    switch (copy.state) {
        case CopyState::whole:
            return shelf::proven_lately(copy, shelf.policy, shelf.today) ? sign::fresh : sign::old;
        case CopyState::unproven:
            return sign::unproven;
        case CopyState::damaged:
            return sign::damaged;
        case CopyState::replaced:
            return sign::replaced;
        case CopyState::missing:
            return sign::missing;
        case CopyState::retired:
        case CopyState::gone:
            break;
    }
    return sign::retired;
}

struct DueWords {
    std::string_view heading;
    std::string_view with_job;
};

DueWords words_of(shelf::DueKind kind) {
    using enum shelf::DueKind;
    switch (kind) {
        case no_whole_copy:
            return {"Jobs without a whole copy", "no whole copy"};
        case damaged_copy:
            return {"Damaged copies", "damaged copy"};
        case audit_at_risk:
            return {"Drives to read now, since an error was found", "to be read now"};
        case too_few_copies:
            return {"Jobs short of copies", "too few copies"};
        case audit_overdue:
            return {"Audits overdue", "audit overdue"};
        case replace_drive:
            return {"Drives to replace", "drive to be replaced"};
        case server_copy:
            return {"Copies on servers that may move or go", "server copy may move or go"};
        case keep_ended:
            break;
    }
    return {"Jobs whose time is over", "its time is over"};
}

std::string joined_by(const std::vector<std::string>& words, std::string_view between) {
    std::string out;
    for (const std::string& word : words) {
        if (!out.empty() && !word.empty()) out += between;
        out += word;
    }
    return out;
}

class Overview {
  public:
    explicit Overview(const ShelfOverview& shelf) : shelf_(shelf) {
        for (std::size_t i = 0; i < shelf.facts.volumes.size(); ++i)
            number_[shelf.facts.volumes[i].identity.id] = i + 1;
        for (const shelf::DueItem& item : shelf.due)
            for (const std::string& bag : item.bags)
                due_[bag].push_back(&item);
        for (std::size_t i = 0; i < shelf.facts.bags.size(); ++i)
            by_year_[year_of(shelf.facts.bags[i])].push_back(i);
    }

    Markup write() {
        header();
        due();
        jobs();
        drives();
        out_.put(
            "</main>\n<footer>\n<p>● proven within the audit interval · ◐ proven, but longer ago · "
            "○ never proven · ✕ damaged or replaced · ? missing when last looked for · – out of "
            "service</p>\n<p>Written by Glassine {} from its register. Days are days in "
            "UTC.</p>\n</footer>\n",
            version());
        return {out_.take()};
    }

  private:
    static std::string year_of(const shelf::BagFacts& bag) {
        const auto& day = bag.shoot_date ? bag.shoot_date : bag.sealed;
        return day ? iso_date(*day).substr(0, 4) : "no date";
    }

    const std::string& volume_name(const std::string& id) const {
        const shelf::VolumeFacts* volume = shelf_.facts.volume(id);
        return volume != nullptr ? volume->name() : id;
    }

    void header() {
        const std::size_t due = shelf_.due.size();
        const bool grave = due > 0 && shelf_.due.front().kind <= shelf::DueKind::audit_at_risk;
        out_.put(
            "<header>\n<h1>The shelf on {}</h1>\n<p class=\"verdict{}\">{} on {}; {}.</p>\n"
            "</header>\n<nav aria-label=\"Sections\">\n<ul>\n"
            "<li><a href=\"#due\">What is due</a></li>\n<li><a href=\"#jobs\">Jobs</a></li>\n"
            "<li><a href=\"#drives\">Drives</a></li>\n</ul>\n</nav>\n<main>\n",
            iso_date(shelf_.today), grave ? " bad" : "",
            text::counted(shelf_.facts.bags.size(), "job"),
            text::counted(shelf_.facts.volumes.size(), "volume"),
            due == 0 ? std::string("nothing is due")
                     : text::counted(due, "thing is", "things are") + " due");
    }

    void due() {
        out_.put("<section aria-labelledby=\"due\">\n<h2 id=\"due\">What is due</h2>\n");
        if (shelf_.due.empty()) out_.put("<p>Nothing.</p>\n");
        for (auto at = shelf_.due.begin(); at != shelf_.due.end();) {
            const auto end = std::find_if(at, shelf_.due.end(), [&](const shelf::DueItem& item) {
                return item.kind != at->kind;
            });
            due_of_one_kind({at, end});
            at = end;
        }
        out_.put("</section>\n");
    }

    void due_of_one_kind(std::span<const shelf::DueItem> items) {
        constexpr std::size_t most = 12;  // each stands with its job as well
        out_.put("<h3>{} <small>{}</small></h3>\n<ul class=\"due\">\n",
                 words_of(items.front().kind).heading, text::grouped(items.size()));
        for (const shelf::DueItem& item : items.first(std::min(most, items.size()))) {
            out_.put("<li>{}", item.what);
            if (!item.command.empty()) out_.put("<br><code>{}</code>", item.command);
            out_.put("</li>\n");
        }
        out_.put("</ul>\n");
        if (items.size() > most)
            out_.put("<p>… and {} more: <code>glassine shelf due</code> lists them all.</p>\n",
                     text::grouped(items.size() - most));
    }

    void filter() {
        out_.put(
            "<form id=\"filter\" hidden role=\"search\" aria-label=\"Jobs\">\n"
            "<p><label for=\"words\">Client, description, number or day</label>"
            "<input id=\"words\" type=\"search\" autocomplete=\"off\"></p>\n"
            "<p><label for=\"state\">Show</label><select id=\"state\">"
            "<option value=\"\">all jobs</option>"
            "<option value=\"due\">where something is due</option>"
            "<option value=\"short\">with too few copies</option>"
            "<option value=\"old\">with a copy proven long ago or never</option>"
            "<option value=\"bad\">with a copy that is damaged or missing</option>"
            "</select></p>\n<p><label for=\"drive\">On</label><select id=\"drive\">"
            "<option value=\"\">any volume</option>");
        for (const shelf::VolumeFacts& volume : shelf_.facts.volumes) {
            const std::string& place = volume.identity.place;
            out_.put("<option value=\"{}\">{}{}</option>", number_[volume.identity.id],
                     volume.name(), place.empty() ? "" : fmt::format(" ({})", place));
        }
        out_.put("</select></p>\n<p id=\"shown\" role=\"status\"></p>\n</form>\n");
    }

    void jobs() {
        out_.put("<section aria-labelledby=\"jobs\">\n<h2 id=\"jobs\">Jobs</h2>\n");
        if (shelf_.facts.bags.empty())
            out_.put(
                "<p>None yet: <code>glassine closeout</code> and <code>glassine shelf scan</code> "
                "take them in.</p>\n");
        else
            filter();
        for (auto year = by_year_.rbegin(); year != by_year_.rend(); ++year) {
            out_.put(
                "<section class=\"year\" aria-labelledby=\"year-{0}\">\n<h3 id=\"year-{0}\">{1} "
                "<small>{2}</small></h3>\n<div class=\"wide\" role=\"region\" "
                "aria-label=\"Jobs of {1}\" tabindex=\"0\">\n<table class=\"left jobs\">\n"
                "<thead><tr><th scope=\"col\">Job</th><th scope=\"col\">Copies</th>"
                "<th scope=\"col\">Where, and last proven</th></tr></thead>\n<tbody>\n",
                year->first == "no date" ? std::string("unknown") : year->first, year->first,
                text::counted(year->second.size(), "job"));
            for (const std::size_t bag : year->second)
                job(shelf_.facts.bags[bag], shelf_.standings[bag]);
            out_.put("</tbody>\n</table>\n</div>\n</section>\n");
        }
        out_.put("</section>\n");
    }

    /// What the filter goes by.
    std::string states(const shelf::BagFacts& bag, const shelf::Standing& standing) const {
        std::vector<std::string> out;
        if (due_.contains(bag.name)) out.emplace_back("due");
        if (!standing.lacks.empty()) out.emplace_back("short");
        const auto any = [&](auto rule) { return std::ranges::any_of(bag.copies, rule); };
        if (any([&](const auto& copy) { return sign_of(copy, shelf_).bad; }))
            out.emplace_back("bad");
        if (any([&](const auto& copy) {
                return copy.counts() && !shelf::proven_lately(copy, shelf_.policy, shelf_.today);
            }))
            out.emplace_back("old");
        return joined_by(out, " ");
    }

    /// The numbers of the volumes that it stands on.
    std::string drives_of(const shelf::BagFacts& bag) const {
        std::set<std::size_t> numbers;
        for (const shelf::CopyFacts& copy : bag.copies)
            if (const auto at = number_.find(copy.volume); copy.is_there() && at != number_.end())
                numbers.insert(at->second);
        return fmt::format("{}", fmt::join(numbers, " "));
    }

    void job(const shelf::BagFacts& bag, const shelf::Standing& standing) {
        const std::string about =
            joined_by({joined_by(bag.clients, ", "), bag.description, bag.number}, " · ");
        out_.put("<tr data-words=\"{}\" data-state=\"{}\" data-drives=\"{}\"><th scope=\"row\">{}",
                 text::fold_for_search(bag.name + " " + about), states(bag, standing),
                 drives_of(bag), bag.name);
        out_.put("<small>{}</small></th><td>{} of {} proven", about, standing.whole,
                 shelf_.policy.copies);
        if (!standing.lacks.empty())
            out_.put("<small>has {}</small>", joined_by(standing.lacks, ", "));
        out_.put("</td><td><ul class=\"copies\">");
        for (const shelf::CopyFacts& copy : bag.copies)
            if (copy.state != CopyState::gone) this->copy(copy);
        out_.put("</ul>{}</td></tr>\n", due_words(bag));
    }

    /// "due: too few copies; to be read now (SHELF-02, SHELF-07)".
    Markup due_words(const shelf::BagFacts& bag) const {
        const auto due = due_.find(bag.name);
        if (due == due_.end()) return {};
        std::map<shelf::DueKind, std::vector<std::string>> volumes;
        for (const shelf::DueItem* item : due->second) {
            auto& names = volumes[item->kind];
            if (!item->volume.empty()) names.push_back(volume_name(item->volume));
        }
        std::vector<std::string> words;
        for (auto& [kind, names] : volumes) {
            std::ranges::sort(names);
            const std::string where = joined_by(names, ", ");
            words.push_back(std::string(words_of(kind).with_job) +
                            (where.empty() ? "" : fmt::format(" ({})", where)));
        }
        Html out;
        out.put("<small>due: {}</small>", joined_by(words, "; "));
        return {out.take()};
    }

    void copy(const shelf::CopyFacts& copy) {
        const Sign sign = sign_of(copy, shelf_);
        const bool dated = copy.proven && copy.counts();
        out_.put("<li><span class=\"word{}\">{} {}</span> {}</li>", sign.bad ? " bad" : "",
                 sign.symbol, volume_name(copy.volume),
                 dated ? iso_date(utc_date(*copy.proven)) : std::string(sign.word));
    }

    void drives() {
        out_.put(
            "<section aria-labelledby=\"drives\">\n<h2 id=\"drives\">Drives</h2>\n"
            "<div class=\"wide\" role=\"region\" aria-label=\"Volumes\" tabindex=\"0\">\n"
            "<table class=\"left drives\">\n<thead><tr><th scope=\"col\">Volume</th>"
            "<th scope=\"col\">Place</th><th scope=\"col\">In service</th>"
            "<th scope=\"col\">Jobs</th><th scope=\"col\">Size</th>"
            "<th scope=\"col\">Last seen</th><th scope=\"col\">State</th></tr></thead>\n<tbody>\n");
        for (const shelf::VolumeFacts& volume : shelf_.facts.volumes)
            drive(volume);
        if (shelf_.facts.volumes.empty()) out_.put("<tr><td colspan=\"7\">none yet</td></tr>\n");
        out_.put("</tbody>\n</table>\n</div>\n");
        map();
        out_.put("</section>\n");
    }

    void drive(const shelf::VolumeFacts& volume) {
        const shelf::VolumeIdentity& id = volume.identity;
        std::size_t count = 0;
        std::uint64_t bytes = 0;
        for (const shelf::BagFacts& bag : shelf_.facts.bags)
            for (const shelf::CopyFacts& copy : bag.copies)
                if (copy.volume == id.id && copy.is_there()) {
                    ++count;
                    bytes += bag.payload_bytes;
                }
        out_.put(
            "<tr><th scope=\"row\">{}<small>{}</small></th><td>{}<small>{}</small></td><td>{}</td>"
            "<td>{}</td><td>{}{}</td><td>{}</td><td>",
            volume.name(), joined_by({id.model, id.serial}, ", "), id.place, shelf::word(id.kind),
            id.in_service ? iso_date(*id.in_service) : "not known", text::grouped(count),
            text::human_bytes(bytes),
            id.capacity > 0 ? " of " + text::human_bytes(id.capacity) : "",
            volume.last_seen ? iso_date(utc_date(*volume.last_seen)) : "never");
        if (volume.retired)
            out_.put("out of service since {}", iso_date(utc_date(*volume.retired)));
        else if (volume.last_error)
            out_.put("<span class=\"word bad\">✕ error on {}</span>",
                     iso_date(utc_date(*volume.last_error)));
        else
            out_.put("no error");
        out_.put("</td></tr>\n");
    }

    /// How many jobs of each year stand on each volume, and how well.
    void map() {
        if (by_year_.empty() || shelf_.facts.volumes.empty()) return;
        std::map<std::pair<std::string, std::string>, std::map<std::string_view, std::size_t>> map;
        for (const auto& [year, bags] : by_year_)
            for (const std::size_t bag : bags)
                for (const shelf::CopyFacts& copy : shelf_.facts.bags[bag].copies)
                    if (copy.is_there() || copy.state == CopyState::missing)
                        ++map[{copy.volume, year}][sign_of(copy, shelf_).symbol];
        out_.put(
            "<h3>Jobs by volume and year</h3>\n<div class=\"wide\" role=\"region\" "
            "aria-label=\"Jobs by volume and year\" tabindex=\"0\">\n<table class=\"map\">\n"
            "<thead><tr><th scope=\"col\">Volume</th>");
        for (const auto& [year, bags] : by_year_)
            out_.put("<th scope=\"col\">{}</th>", year);
        out_.put("</tr></thead>\n<tbody>\n");
        for (const shelf::VolumeFacts& volume : shelf_.facts.volumes) {
            out_.put("<tr><th scope=\"row\">{}</th>", volume.name());
            for (const auto& [year, bags] : by_year_)
                out_.put("<td>{}</td>", cell(map[{volume.identity.id, year}]));
            out_.put("</tr>\n");
        }
        out_.put("</tbody>\n</table>\n</div>\n");
    }

    static Markup cell(const std::map<std::string_view, std::size_t>& counts) {
        Html out;
        for (const Sign& one :
             {sign::fresh, sign::old, sign::unproven, sign::damaged, sign::missing})
            if (const auto at = counts.find(one.symbol); at != counts.end())
                out.put("<span class=\"word{}\">{} {}</span> ", one.bad ? " bad" : "", one.symbol,
                        at->second);
        return {out.take()};
    }

    const ShelfOverview& shelf_;
    Html out_;
    std::map<std::string, std::size_t> number_;
    std::map<std::string, std::vector<const shelf::DueItem*>> due_;
    std::map<std::string, std::vector<std::size_t>> by_year_;
};

}  // namespace

ShelfPageResult shelf_page_result(const ShelfOverview& shelf, std::string file) {
    ShelfPageResult result;
    result.command = "shelf overview";
    result.started = shelf.started;
    result.finished = shelf.finished;
    result.html = std::move(file);
    result.bags = shelf.facts.bags.size();
    result.volumes = shelf.facts.volumes.size();
    result.due = shelf.due.size();
    return result;
}

std::string overview_page(const ShelfOverview& shelf) {
    return page("The shelf on " + iso_date(shelf.today), overview_style, Overview(shelf).write(),
                shelf.facts.bags.empty() ? "" : overview_script);
}

}  // namespace glassine::report

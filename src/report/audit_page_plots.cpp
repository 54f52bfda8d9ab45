#include "report/audit_page_parts.h"
#include "report/plot.h"

#include <algorithm>
#include <cmath>
#include <set>

namespace glassine::report {
namespace {

constexpr std::size_t columns = 240;
constexpr std::size_t most_rows = 30;

std::string rate_words(double rate) {
    return text::human_bytes(static_cast<std::uint64_t>(std::max(rate, 0.0))) + "/s";
}

/// "50 MB": round numbers need no decimals.
std::string tick_words(double bytes) {
    std::string words = text::human_bytes(static_cast<std::uint64_t>(bytes));
    const std::size_t decimals = words.find(".0 ");
    if (decimals != std::string::npos) words.erase(decimals, 2);
    return bytes < 1 ? "0" : words;
}

/// All bags of the drive behind one another, in the order in which they were read.
std::vector<PlotPoint> along(const AuditNotes& notes, const DriveNotes& drive) {
    std::vector<PlotPoint> points;
    double before = 0;
    for (const std::size_t bag : drive.bags) {
        const std::vector<RateSample>& rates = notes.bags[bag].rates;
        for (const RateSample& s : rates)
            points.push_back({before + static_cast<double>(s.bytes), s.rate});
        if (!rates.empty()) before += static_cast<double>(rates.back().bytes);
    }
    return points;
}

/// As many points as the drawing has columns, each the mean of those in its column.
std::vector<PlotPoint> thinned(const std::vector<PlotPoint>& points) {
    if (points.size() <= columns) return points;
    std::vector<PlotPoint> out;
    const std::size_t each = (points.size() + columns - 1) / columns;
    for (std::size_t i = 0; i < points.size(); i += each) {
        const std::size_t end = std::min(i + each, points.size());
        double sum = 0;
        for (std::size_t k = i; k < end; ++k)
            sum += points[k].y;
        out.push_back({points[end - 1].x, sum / static_cast<double>(end - i)});
    }
    return out;
}

double middle(std::vector<PlotPoint> points) {
    const auto at = points.begin() + static_cast<std::ptrdiff_t>(points.size() / 2);
    std::ranges::nth_element(points, at, {}, &PlotPoint::y);
    return at->y;
}

/// The mean rates of the drive's earlier audits, by day: the last few.
std::vector<CurvePlot::Level> earlier_levels(const AuditNotes& notes, const DriveNotes& drive) {
    std::vector<std::pair<std::string, double>> days;
    for (const std::size_t bag : drive.bags)
        for (const EarlierCheck& check : notes.bags[bag].earlier)
            if (check.rate > 0) days.emplace_back(rfc3339(check.when).substr(0, 10), check.rate);
    std::ranges::sort(days);
    std::vector<CurvePlot::Level> out;
    for (std::size_t i = 0; i < days.size();) {
        const std::string& day = days[i].first;
        double sum = 0;
        std::size_t count = 0;
        for (; i < days.size() && days[i].first == day; ++i, ++count)
            sum += days[i].second;
        const double rate = sum / static_cast<double>(count);
        out.push_back({rate, fmt::format("{}: {}", day, rate_words(rate))});
    }
    if (out.size() > 3) out.erase(out.begin(), out.end() - 3);
    return out;
}

std::string rates_in_words(const std::vector<PlotPoint>& points, std::size_t earlier) {
    const PlotPoint& slowest = *std::ranges::min_element(points, {}, &PlotPoint::y);
    std::string out = fmt::format("Half of it faster than {}; slowest {} at {}",
                                  rate_words(middle(points)), rate_words(slowest.y),
                                  text::human_bytes(static_cast<std::uint64_t>(slowest.x)));
    if (earlier > 0) out += "; dashed: the mean of earlier audits";
    return out;
}

/// The calendar's share of the year that had passed, near enough for a drawing.
TimelinePlot::Event event_of(Timestamp when, bool good) {
    const std::string day = rfc3339(when);
    const int month = std::stoi(day.substr(5, 2));
    return {std::stoi(day.substr(0, 4)), (month - 1 + std::stoi(day.substr(8, 2)) / 31.0) / 12.0,
            good};
}

/// "SHELF-07: " where there are several, since copies of one job share its name.
std::string drive_of(const AuditNotes& notes, std::size_t bag) {
    if (notes.drives.size() < 2) return "";
    for (const DriveNotes& drive : notes.drives)
        if (std::ranges::find(drive.bags, bag) != drive.bags.end())
            return (drive.label.empty() ? drive.path : drive.label) + ": ";
    return "";
}

}  // namespace

Markup rate_plot(const AuditResult& result, const AuditNotes& notes, const DriveNotes& drive) {
    constexpr std::size_t enough = 5;
    const std::vector<PlotPoint> points = along(notes, drive);
    if (result.quick || points.size() < enough) return {};
    CurvePlot plot;
    plot.title = "How fast the drive was read, from its beginning to its end";
    plot.curve = thinned(points);
    plot.levels = earlier_levels(notes, drive);
    plot.says = rates_in_words(plot.curve, plot.levels.size());
    plot.x_words = tick_words;
    plot.y_words = [](double y) { return y < 1 ? "0" : tick_words(y) + "/s"; };
    return svg(plot);
}

Markup years_plot(const AuditResult& result, const AuditNotes& notes) {
    std::vector<std::size_t> shown;
    for (std::size_t i = 0; i < notes.bags.size(); ++i)
        if (!notes.bags[i].earlier.empty()) shown.push_back(i);
    if (shown.empty() || result.quick) return {};
    // Those with trouble first, where there are more than the drawing can carry.
    std::stable_partition(shown.begin(), shown.end(),
                          [&](std::size_t i) { return needs_attention(result.bags[i].report); });
    if (shown.size() > most_rows) shown.resize(most_rows);
    TimelinePlot plot;
    std::size_t bad = 0;
    std::size_t all = 0;
    for (const std::size_t i : shown) {
        TimelinePlot::Row row{drive_of(notes, i) + result.bags[i].report.name, {}};
        for (const EarlierCheck& check : notes.bags[i].earlier)
            row.events.push_back(event_of(check.when, check.whole));
        if (!result.bags[i].report.stopped)
            row.events.push_back(event_of(result.started, !needs_attention(result.bags[i].report)));
        all += row.events.size();
        bad += static_cast<std::size_t>(
            std::ranges::count(row.events, false, &TimelinePlot::Event::good));
        plot.rows.push_back(std::move(row));
    }
    plot.title = "Audits over the years";
    plot.says = fmt::format("{} of {}; a disc: whole, a cross: damage was found ({})",
                            text::counted(all, "check"), text::counted(shown.size(), "bag"),
                            bad == 0 ? "none" : std::to_string(bad));
    Html out;
    out.put(
        "<section aria-labelledby=\"years\">\n<h2 id=\"years\">Audits over the years</h2>\n{}"
        "</section>\n",
        svg(plot));
    return {out.take()};
}

}  // namespace glassine::report

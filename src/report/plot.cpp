#include "report/plot.h"

#include <algorithm>
#include <cmath>

namespace glassine::report {
namespace {

// All in the drawing's own units; the page scales it to its width.
constexpr double width = 760;
constexpr double left = 104;
constexpr double right = 16;
constexpr double curve_height = 200;
constexpr double top = 12;
constexpr double bottom = 30;
constexpr double row_height = 22;
constexpr double label_width = 300;
constexpr std::size_t label_letters = 26;

void open(Html& out, double height, const std::string& title, const std::string& says) {
    out.put(
        "<figure class=\"plot\">\n<svg viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"{}. {}\">\n",
        width, height, title, says);
}

void close(Html& out, const std::string& title, const std::string& says) {
    out.put("</svg>\n<figcaption><strong>{}.</strong> {}.</figcaption>\n</figure>\n", title, says);
}

void text_at(Html& out, double x, double y, std::string_view anchor, const std::string& words) {
    out.put("<text x=\"{:.1f}\" y=\"{:.1f}\" text-anchor=\"{}\">{}</text>\n", x, y, anchor, words);
}

void line(Html& out, std::string_view kind, double x1, double y1, double x2, double y2) {
    out.put("<line class=\"{}\" x1=\"{:.1f}\" y1=\"{:.1f}\" x2=\"{:.1f}\" y2=\"{:.1f}\"/>\n", kind,
            x1, y1, x2, y2);
}

double highest(const CurvePlot& plot) {
    double most = 0;
    for (const PlotPoint& p : plot.curve)
        most = std::max(most, p.y);
    for (const CurvePlot::Level& level : plot.levels)
        most = std::max(most, level.y);
    return most;
}

struct Years {
    int first;
    int last;
    double at(const TimelinePlot::Event& e) const {
        const double span = last - first + 1;
        return label_width + (width - right - label_width) * (e.year - first + e.share) / span;
    }
};

Years years_of(const TimelinePlot& plot) {
    Years years{9999, 0};
    for (const TimelinePlot::Row& row : plot.rows)
        for (const TimelinePlot::Event& e : row.events) {
            years.first = std::min(years.first, e.year);
            years.last = std::max(years.last, e.year);
        }
    return years;
}

void draw_row(Html& out, const TimelinePlot::Row& row, const Years& years, double y) {
    line(out, "grid", label_width, y, width - right, y);
    text_at(out, label_width - 8, y + 4, "end", fitting(row.label, label_letters));
    for (const TimelinePlot::Event& e : row.events) {
        const double x = years.at(e);
        if (e.good) {
            out.put("<circle class=\"good\" cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"5\"/>\n", x, y);
        } else {
            line(out, "bad", x - 6, y - 6, x + 6, y + 6);
            line(out, "bad", x - 6, y + 6, x + 6, y - 6);
        }
    }
}

}  // namespace

std::vector<double> ticks(double most, int count) {
    if (most <= 0) return {0};
    const double rough = most / count;
    const double power = std::pow(10, std::floor(std::log10(rough)));
    double step = power * 10;
    for (const double factor : {1.0, 2.0, 5.0})
        if (power * factor >= rough * 0.999) {
            step = power * factor;
            break;
        }
    std::vector<double> out;
    for (double at = 0; at < most + step * 0.999; at += step)
        out.push_back(at);
    return out;
}

Markup svg(const CurvePlot& plot) {
    const double x_most = plot.curve.empty() ? 1 : std::max(plot.curve.back().x, 1.0);
    const std::vector<double> y_ticks = ticks(highest(plot), 4);
    const double y_most = std::max(y_ticks.back(), 1.0);
    const auto x_at = [&](double x) { return left + (width - left - right) * x / x_most; };
    const auto y_at = [&](double y) { return top + curve_height * (1 - y / y_most); };
    Html out;
    open(out, top + curve_height + bottom, plot.title, plot.says);
    for (const double y : y_ticks) {
        line(out, "grid", left, y_at(y), width - right, y_at(y));
        text_at(out, left - 8, y_at(y) + 4, "end", plot.y_words(y));
    }
    for (const double x : ticks(x_most, 5))
        if (x <= x_most) text_at(out, x_at(x), top + curve_height + 20, "middle", plot.x_words(x));
    for (const CurvePlot::Level& level : plot.levels) {
        line(out, "level", left, y_at(level.y), width - right, y_at(level.y));
        text_at(out, width - right, y_at(level.y) - 5, "end", level.label);
    }
    std::string points;
    for (const PlotPoint& p : plot.curve)
        points += fmt::format("{}{:.1f},{:.1f}", points.empty() ? "" : " ", x_at(p.x), y_at(p.y));
    out.put("<polyline class=\"curve\" points=\"{}\"/>\n", points);
    close(out, plot.title, plot.says);
    return {out.take()};
}

Markup svg(const TimelinePlot& plot) {
    const Years years = years_of(plot);
    const double height = top + row_height * static_cast<double>(plot.rows.size()) + bottom;
    Html out;
    open(out, height, plot.title, plot.says);
    for (int year = years.first; year <= years.last + 1; ++year)
        line(out, "grid", years.at({year, 0, true}), top, years.at({year, 0, true}),
             height - bottom);
    const int every = (years.last - years.first) / 10 + 1;
    for (int year = years.first; year <= years.last; year += every)
        text_at(out, years.at({year, 0.5, true}), height - bottom + 20, "middle",
                std::to_string(year));
    double y = top + row_height / 2;
    for (const TimelinePlot::Row& row : plot.rows) {
        draw_row(out, row, years, y);
        y += row_height;
    }
    close(out, plot.title, plot.says);
    return {out.take()};
}

}  // namespace glassine::report

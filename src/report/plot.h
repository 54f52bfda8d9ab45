#pragma once

#include "report/html.h"

#include <functional>
#include <string>
#include <vector>

/// Drawings for pages, as SVG that stands in the page: ink on paper in the page's own colours, told
/// in words too, so that nobody needs to see them.
namespace glassine::report {

struct PlotPoint {
    double x = 0;
    double y = 0;
};

/// A curve over a range that begins at 0 on both axes.
struct CurvePlot {
    std::string title;
    std::string says;  ///< the same in words
    std::vector<PlotPoint> curve;
    struct Level {
        double y = 0;
        std::string label;
    };
    std::vector<Level> levels;  ///< horizontal dashed lines
    std::function<std::string(double)> x_words;
    std::function<std::string(double)> y_words;
};
Markup svg(const CurvePlot& plot);

/// What happened when, one row for each thing: a disc where all was well, a cross where not.
struct TimelinePlot {
    std::string title;
    std::string says;
    struct Event {
        int year = 0;
        double share = 0;  ///< of the year that had passed
        bool good = true;
    };
    struct Row {
        std::string label;
        std::vector<Event> events;
    };
    std::vector<Row> rows;
};
Markup svg(const TimelinePlot& plot);

/// Round numbers from 0 to at least `most`, about `count` of them.
std::vector<double> ticks(double most, int count);

}  // namespace glassine::report

// The page's charts as SVG. Each has a title and a description for those who do not see it; its data stand
// beside it as a table. Colour never alone: shapes, patterns and words say the same. Axes bear their units.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/summary.hpp"

namespace linelaw::runtime::charts {

// A rate as a point with its interval on an axis from 0 to 100 %.
std::string interval(const Rate& rate, std::string_view what);

// Outcomes as two bars, what is counted and, apart, what is not, on one scale of opportunities, with a legend
// that gives the numbers.
std::string outcomes(const Counts& counts, std::string_view what);

// A run chart of shares by month: median, and the limits of a p-chart (3 standard deviations).
struct Point {
    std::string label;
    std::uint64_t met = 0;
    std::uint64_t counted = 0;
    ControlLimits limits;
    bool below() const;  // its lower limit
    bool above() const;
};
std::vector<Point> points_by_month(const Tally& tally,
                                   std::size_t item);  // months without a counted one left out
std::string run(const std::vector<Point>& points, std::string_view what);

// One episode: each opportunity as a bar from opened to due and, past its limit, to closed.
std::string timeline(const Audited& audited, const WorstFinding& finding, const Zone& zone);

}  // namespace linelaw::runtime::charts

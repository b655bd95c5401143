// The page's charts as SVG. Each has a title and a description for those who do not see it; its data stand
// beside it as a table. Colour never alone: shapes, patterns and words say the same. Axes bear their units.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/months.hpp"
#include "runtime/summary.hpp"

namespace linelaw::runtime::charts {

// A rate as a point with its interval on an axis from 0 to 100 %.
std::string interval(const Rate& rate, std::string_view what);

// Outcomes as two bars, what is counted and, apart, what is not, on one scale of opportunities, with a legend
// that gives the numbers.
std::string outcomes(const Counts& counts, std::string_view what);

// A run chart by month: the values about their median, and each month's control limits.
std::string run(const MonthChart& chart, std::string_view what);

// One episode: each opportunity as a bar from opened to due and, past its limit, to closed.
std::string timeline(const Audited& audited, const WorstFinding& finding, const Zone& zone);

}  // namespace linelaw::runtime::charts

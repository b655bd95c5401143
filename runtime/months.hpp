// An item's months as a chart: what is plotted, its control limits, and the signals that the chosen rules
// find. Made here once, for the page, the JSON and the table.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/summary.hpp"

namespace linelaw::runtime {

// One month. Limits are three standard deviations about the whole period's value, for this month's number.
struct MonthPoint {
    std::int32_t month = 0;
    std::uint64_t met = 0;
    std::uint64_t counted = 0;
    std::uint64_t line_days = 0;
    double value = 0;  // share met; against per 1 000 line-days; number against
    ControlLimits limits;
    double chance_beyond = 0;  // of lying beyond them where nothing but chance is at work
    std::uint64_t against() const { return counted - met; }
    bool below() const { return value < limits.lower; }
    bool above() const { return value > limits.upper; }
};
struct MonthChart {
    ControlKind kind = ControlKind::p;
    std::vector<MonthPoint> points;  // months in which nothing was counted are left out
    RunChart run;
    std::vector<ChartSignal> signals;
};
MonthChart month_chart(const Tally& tally, std::size_t item, const ChartChoice& choice);

std::string_view control_name(ControlKind kind);          // "p"
std::string_view value_name(ControlKind kind);            // "share met"
std::string value_words(ControlKind kind, double value);  // "91.2 %", "2.40", "7"
// "8 months in a row on one side of the median, where 7 are to be expected at most": of one signal.
std::string signal_words(const MonthChart& chart, ChartSignal signal, const ChartRules& rules);
std::string_view signal_name(ChartSignal signal);  // "few_crossings"

}  // namespace linelaw::runtime

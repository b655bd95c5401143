#include "runtime/months.hpp"

#include <fmt/format.h>

#include <array>

namespace linelaw::runtime {
namespace {

// The value that is plotted, its centre and the denominator of its limits.
struct Plotted {
    double value = 0;
    ControlLimits limits;
};

Plotted plotted(ControlKind kind, const MonthPoint& month, const MonthPoint& whole, std::size_t months) {
    const auto as_double = [](std::uint64_t n) { return static_cast<double>(n); };
    switch (kind) {
        case ControlKind::p:
            return {as_double(month.met) / as_double(month.counted),
                    p_chart(as_double(whole.met) / as_double(whole.counted), as_double(month.counted))};
        case ControlKind::u: {
            const double thousands = as_double(month.line_days) / 1000;
            return {as_double(month.against()) / thousands,
                    u_chart(as_double(whole.against()) / (as_double(whole.line_days) / 1000), thousands)};
        }
        case ControlKind::c:
            break;
    }
    return {as_double(month.against()), c_chart(as_double(whole.against()) / as_double(months))};
}

}  // namespace

MonthChart month_chart(const Tally& tally, std::size_t item, const ChartChoice& choice) {
    MonthChart chart;
    chart.kind = choice.control;
    MonthPoint whole;
    for (const auto& [month, group] : tally.by_month) {
        const Rate rate = item < group.counts.size() ? rate_of(group.counts[item]) : Rate{};
        if (chart.kind == ControlKind::p ? !rate.exercised() : group.line_days == 0) continue;
        MonthPoint point;
        point.month = month;
        point.met = rate.met;
        point.counted = rate.counted;
        point.line_days = group.line_days;
        chart.points.push_back(point);
        whole.met += rate.met;
        whole.counted += rate.counted;
        whole.line_days += group.line_days;
    }
    if (whole.counted == 0) chart.points.clear();  // nothing exercised it in any month
    std::vector<double> values;
    for (MonthPoint& point : chart.points) {
        const Plotted p = plotted(chart.kind, point, whole, chart.points.size());
        point.value = p.value;
        point.limits = p.limits;
        values.push_back(p.value);
    }
    chart.run = run_chart(values);
    chart.signals = signals(chart.run, choice.rules);
    return chart;
}

std::string_view control_name(ControlKind kind) {
    constexpr std::array<std::string_view, 3> names = {"p", "u", "c"};
    return names[static_cast<std::size_t>(kind)];
}

std::string_view value_name(ControlKind kind) {
    constexpr std::array<std::string_view, 3> names = {"share met", "against per 1,000 line-days",
                                                       "number against"};
    return names[static_cast<std::size_t>(kind)];
}

std::string value_words(ControlKind kind, double value) {
    if (kind == ControlKind::p) return percent(value);
    return fmt::format("{:.{}f}", value, kind == ControlKind::u ? 2 : 1);
}

std::string signal_words(const MonthChart& chart, ChartSignal signal, const ChartRules& rules) {
    const RunChart& run = chart.run;
    switch (signal) {
        case ChartSignal::shift:
            return fmt::format(
                "a shift: {} months in a row on one side of the median, where chance gives up to {} in {}",
                run.longest_run, *run.longest_allowed, run.useful);
        case ChartSignal::few_crossings:
            return fmt::format(
                "the median is crossed {}, where chance gives {} or more in {} months",
                run.crossings == 1 ? std::string("once") : fmt::format("{} times", run.crossings),
                *run.fewest_allowed, run.useful);
        case ChartSignal::few_runs:
        case ChartSignal::many_runs:
            return fmt::format("{} runs about the median, where chance gives {} to {} in {} months",
                               run.runs(), run.runs_allowed->fewest, run.runs_allowed->most, run.useful);
        case ChartSignal::run:
            return fmt::format("{} months in a row on one side of the median (the rule of {})",
                               run.longest_run, rules.run_of);
        case ChartSignal::trend:
            break;
    }
    return fmt::format("{} months in a row that all rise or all fall (the rule of {})", run.longest_trend,
                       rules.trend_of);
}

std::string_view signal_name(ChartSignal signal) {
    constexpr std::array<std::string_view, 6> names = {"shift",     "few_crossings", "few_runs",
                                                       "many_runs", "run",           "trend"};
    return names[static_cast<std::size_t>(signal)];
}

}  // namespace linelaw::runtime

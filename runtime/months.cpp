#include "runtime/months.hpp"

#include <fmt/format.h>

#include <array>

namespace linelaw::runtime {
namespace {

void plot(ControlKind kind, MonthPoint& month, const MonthPoint& whole, std::size_t months) {
    const auto as_double = [](std::uint64_t n) { return static_cast<double>(n); };
    const double counted = as_double(month.counted);
    const double thousands = as_double(month.line_days) / 1000;
    switch (kind) {
        case ControlKind::p:
            month.value = as_double(month.met) / counted;
            month.limits = p_chart(as_double(whole.met) / as_double(whole.counted), counted);
            month.chance_beyond = chance_beyond_p(month.limits, counted);
            return;
        case ControlKind::u:
            month.value = as_double(month.against()) / thousands;
            month.limits =
                u_chart(as_double(whole.against()) / (as_double(whole.line_days) / 1000), thousands);
            month.chance_beyond = chance_beyond_u(month.limits, thousands);
            return;
        case ControlKind::c:
            month.value = as_double(month.against());
            month.limits = c_chart(as_double(whole.against()) / as_double(months));
            month.chance_beyond = chance_beyond_u(month.limits, 1);
    }
}

}  // namespace

MonthChart month_chart(const Tally& tally, std::size_t item, const ChartChoice& choice) {
    MonthChart chart;
    chart.kind = choice.control;
    MonthPoint whole;
    for (const auto& [month, group] : tally.by_month) {
        const Rate rate = item < group.counts.size() ? rate_of(group.counts[item]) : Rate{};
        if (!rate.exercised() || (chart.kind != ControlKind::p && group.line_days == 0)) continue;
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
    std::vector<double> values;
    for (MonthPoint& point : chart.points) {
        plot(chart.kind, point, whole, chart.points.size());
        values.push_back(point.value);
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

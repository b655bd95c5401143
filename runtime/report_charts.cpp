#include "runtime/report_charts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "runtime/report_html.hpp"

namespace linelaw::runtime::charts {
namespace {

using html::escaped;

// An image with a name and a description, both read out.
std::string open_svg(std::string_view css_class, int width, int height, std::string_view title,
                     std::string_view description) {
    return fmt::format(
        "<svg class=\"{}\" viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"{}. {}\"><title>{}</title>",
        css_class, width, height, escaped(title), escaped(description), escaped(title));
}

std::string text(double x, double y, std::string_view anchor, std::string_view content,
                 std::string_view css_class = "axis") {
    return fmt::format("<text class=\"{}\" x=\"{:.1f}\" y=\"{:.1f}\" text-anchor=\"{}\">{}</text>", css_class,
                       x, y, anchor, escaped(content));
}

std::string line(std::string_view css_class, double x1, double y1, double x2, double y2) {
    return fmt::format("<line class=\"{}\" x1=\"{:.1f}\" y1=\"{:.1f}\" x2=\"{:.1f}\" y2=\"{:.1f}\"/>",
                       css_class, x1, y1, x2, y2);
}

}  // namespace

std::string interval(const Rate& rate, std::string_view what) {
    constexpr double left = 12;
    constexpr double width = 262;
    const auto x = [](double share) { return left + width * share; };
    std::string out = open_svg("interval", 300, 44, fmt::format("{}: rate and 95 % interval", what),
                               rate.exercised() ? html::rate_words(rate) : "no evidence");
    out += line("grid", x(0), 16, x(1), 16);
    for (const double tick : {0.0, 0.25, 0.5, 0.75, 1.0}) {
        out += line("grid", x(tick), 12, x(tick), 20);
        out += text(x(tick), 36, "middle", fmt::format("{:.0f}{}", 100 * tick, tick == 1.0 ? " %" : ""));
    }
    if (rate.exercised()) {
        const double low = x(rate.interval.low);
        const double high = x(rate.interval.high);
        out += fmt::format(
            "<rect class=\"reach\" x=\"{:.1f}\" y=\"11\" width=\"{:.1f}\" height=\"10\" rx=\"5\"/>", low,
            std::max(3.0, high - low));
        out += fmt::format("<circle class=\"point\" cx=\"{:.1f}\" cy=\"16\" r=\"5\"/>", x(rate.share));
    }
    return out + "</svg>\n";
}

// ---- outcomes

namespace {

constexpr std::array<Outcome, 5> counted_outcomes = {Outcome::met, Outcome::late, Outcome::missed,
                                                     Outcome::early, Outcome::not_met};
constexpr std::array<Outcome, 4> uncounted_outcomes = {Outcome::excused, Outcome::no_longer_due,
                                                       Outcome::pending, Outcome::not_assessable};

std::string segment(Outcome outcome, double x, double y, double width) {
    const std::string_view name = html::outcome_class(outcome);
    return fmt::format(
        "<g class=\"outcome {0}\"><rect class=\"fill\" x=\"{1:.2f}\" y=\"{2}\" width=\"{3:.2f}\" "
        "height=\"22\"/><rect class=\"texture\" x=\"{1:.2f}\" y=\"{2}\" width=\"{3:.2f}\" "
        "height=\"22\"/></g>",
        name, x, y, width);
}

template <std::size_t N>
std::string bar(const std::array<Outcome, N>& kinds, const Counts& counts, std::uint64_t scale, double y) {
    std::string out;
    constexpr double width = 640;
    std::uint64_t before = 0;
    for (const Outcome outcome : kinds) {
        const std::uint64_t count = count_of(counts, outcome);
        if (count == 0) continue;
        const double x = width * static_cast<double>(before) / static_cast<double>(scale);
        // A thin segment is still seen: one opportunity against is not hidden by ten thousand met.
        const double w = std::max(1.5, width * static_cast<double>(count) / static_cast<double>(scale));
        out += segment(outcome, std::min(x, width - w), y, w);
        before += count;
    }
    return out;
}

std::string legend_entry(Outcome outcome, std::uint64_t count) {
    return fmt::format(
        "<li><svg class=\"key\" viewBox=\"0 0 22 22\" aria-hidden=\"true\">{}</svg>{} <b>{}</b></li>",
        segment(outcome, 0, 0, 22), outcome_words(outcome), grouped(count));
}

template <std::size_t N>
std::string legend(std::string_view title, const std::array<Outcome, N>& kinds, const Counts& counts) {
    std::string out = fmt::format("<li class=\"title\">{}</li>", title);
    for (const Outcome outcome : kinds) {
        if (count_of(counts, outcome) > 0) out += legend_entry(outcome, count_of(counts, outcome));
    }
    return "<ul class=\"legend\">" + out + "</ul>";
}

template <std::size_t N>
std::uint64_t sum_of(const std::array<Outcome, N>& kinds, const Counts& counts) {
    std::uint64_t sum = 0;
    for (const Outcome outcome : kinds) sum += count_of(counts, outcome);
    return sum;
}

}  // namespace

std::string outcomes(const Counts& counts, std::string_view what) {
    const std::uint64_t counted = sum_of(counted_outcomes, counts);
    const std::uint64_t uncounted = sum_of(uncounted_outcomes, counts);
    if (counted + uncounted == 0) return "";
    const std::uint64_t scale = std::max(counted, uncounted);
    const std::string description =
        fmt::format("{} counted, {} not counted", grouped(counted), grouped(uncounted));
    const int height = uncounted == 0 || counted == 0 ? 22 : 52;
    std::string out = "<figure class=\"outcomes\">" +
                      open_svg("bars", 640, height, fmt::format("{}: outcomes", what), description) +
                      bar(counted_outcomes, counts, scale, 0) +
                      bar(uncounted_outcomes, counts, scale, counted == 0 ? 0 : 30) + "</svg><figcaption>";
    if (counted > 0) out += legend(fmt::format("counted {}:", grouped(counted)), counted_outcomes, counts);
    if (uncounted > 0)
        out += legend(fmt::format("not counted {}:", grouped(uncounted)), uncounted_outcomes, counts);
    return out + "</figcaption></figure>\n";
}

// ---- run chart

namespace {

class RunDrawing {
  public:
    explicit RunDrawing(const MonthChart& chart) : chart_(chart) {
        if (chart.kind == ControlKind::p) {
            double lowest = chart.run.median;
            for (const MonthPoint& point : chart.points)
                lowest = std::min({lowest, point.value, point.limits.lower});
            bottom_ = lowest < 0.5 ? 0 : 0.5;
            ticks_ = bottom_ > 0 ? 5 : 4;
            return;
        }
        double highest = 0;
        for (const MonthPoint& point : chart.points)
            highest = std::max({highest, point.value, point.limits.upper});
        ticks_ = 4;
        top_ = round_up(highest);
    }

    std::string draw() const {
        std::string out;
        for (int i = 0; i <= ticks_; ++i) {
            const double value = bottom_ + (top_ - bottom_) * i / ticks_;
            out += line("grid", left, y(value), right, y(value));
            out += text(left - 8, y(value) + 4, "end",
                        chart_.kind == ControlKind::p ? fmt::format("{:.0f} %", 100 * value)
                                                      : fmt::format("{:g}", value));
        }
        out += limits();
        out += text(left - 8, 208, "end", "month");
        out += text(0, 12, "start", value_name(chart_.kind));
        out += line("median", left, y(chart_.run.median), right, y(chart_.run.median));
        out += text(right + 6, y(chart_.run.median) + 4, "start", "median");
        out += path();
        for (std::size_t i = 0; i < chart_.points.size(); ++i) out += mark(i);
        return out;
    }

  private:
    static constexpr double left = 56;
    static constexpr double right = 570;
    static constexpr double top = 28;
    static constexpr double base = 190;

    // The next of 1, 2, 4, 8 times a power of ten, so that a quarter of it is a number that one can read.
    static double round_up(double value) {
        if (value <= 0) return 1;
        const double ten = std::pow(10, std::floor(std::log10(value)));
        for (const double step : {1.0, 2.0, 4.0, 8.0}) {
            if (value <= step * ten) return step * ten;
        }
        return 10 * ten;
    }
    double step() const { return (right - left) / static_cast<double>(chart_.points.size()); }
    double x(std::size_t i) const { return left + step() * (static_cast<double>(i) + 0.5); }
    double y(double value) const { return base - (base - top) * (value - bottom_) / (top_ - bottom_); }

    // Each month has limits of its own, as wide as its number allows: a staircase.
    std::string limits() const {
        std::string upper;
        std::string lower;
        for (std::size_t i = 0; i < chart_.points.size(); ++i) {
            const char* move = i == 0 ? "M" : "L";
            const double from = x(i) - step() / 2;
            const double to = x(i) + step() / 2;
            upper += fmt::format("{}{:.1f} {:.1f}H{:.1f}", move, from, y(chart_.points[i].limits.upper), to);
            lower += fmt::format("{}{:.1f} {:.1f}H{:.1f}", move, from, y(chart_.points[i].limits.lower), to);
        }
        return fmt::format("<path class=\"limit\" d=\"{}\"/><path class=\"limit\" d=\"{}\"/>", upper, lower);
    }
    std::string path() const {
        std::string d;
        for (std::size_t i = 0; i < chart_.points.size(); ++i) {
            d += fmt::format("{}{:.1f} {:.1f}", i == 0 ? "M" : "L", x(i), y(chart_.points[i].value));
        }
        return "<path class=\"series\" d=\"" + d + "\"/>";
    }
    std::string mark(std::size_t i) const {
        const MonthPoint& point = chart_.points[i];
        const double at = y(point.value);
        std::string out;
        if (point.below() || point.above()) {  // a diamond, and the word, not only another colour
            out +=
                fmt::format("<path class=\"beyond\" d=\"M{0:.1f} {1:.1f}l7 7l-7 7l-7 -7z\"/>", x(i), at - 7);
        } else {
            out += fmt::format("<circle class=\"point\" cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"4.5\"/>", x(i), at);
        }
        const std::size_t every = chart_.points.size() / 13 + 1;
        if (i % every != 0) return out;
        // Month, number, and the year where it begins.
        const std::string label = month_name(point.month);
        const std::string year = label.substr(0, 4);
        out += text(x(i), 208, "middle", label.substr(5));
        out += text(
            x(i), 222, "middle",
            fmt::format("n {}", grouped(chart_.kind == ControlKind::p ? point.counted : point.line_days)));
        if (i == 0 || month_name(chart_.points[i - every].month).substr(0, 4) != year)
            out += text(x(i), 236, "middle", year, "axis label");
        return out;
    }

    const MonthChart& chart_;
    double bottom_ = 0;
    double top_ = 1;
    int ticks_ = 4;
};

}  // namespace

std::string run(const MonthChart& chart, std::string_view what) {
    return "<div class=\"scroll chart\" role=\"region\" tabindex=\"0\" aria-label=\"Run chart of " +
           escaped(what) + "\">" +
           open_svg("run", 640, 242, fmt::format("{}: {} by month", what, value_name(chart.kind)),
                    fmt::format("{} months, median {}; the numbers are in the table below",
                                chart.points.size(), value_words(chart.kind, chart.run.median))) +
           RunDrawing(chart).draw() + "</svg></div>\n";
}

// ---- timeline

namespace {

class TimelineDrawing {
  public:
    TimelineDrawing(const Audited& audited, const WorstFinding& finding, const Zone& zone)
        : audited_(audited), finding_(finding), zone_(zone) {
        for (const Bar& bar : finding.bars) {
            const std::pair<std::uint32_t, std::string> row{bar.item, bar.part};
            if (std::find(rows_.begin(), rows_.end(), row) == rows_.end()) rows_.push_back(row);
        }
        std::sort(rows_.begin(), rows_.end());
        begin_ = finding.begin;
        end_ = std::max(finding.end, begin_ + microseconds_per_hour);
    }
    int height() const { return static_cast<int>(top + row_height * static_cast<double>(rows_.size()) + 6); }

    std::string draw() const {
        std::string out = axis();
        for (std::size_t row = 0; row < rows_.size(); ++row) {
            const double y = top + row_height * static_cast<double>(row);
            std::string label = audited_.items[rows_[row].first].name;
            if (!rows_[row].second.empty()) label += " " + rows_[row].second;
            out += text(left - 10, y + 15, "end", label, "axis label");
            out += line("grid", left, y + row_height, right, y + row_height);
            // Every mark over every bar, so that none hides another's end.
            for (const bool marks : {false, true}) {
                for (const Bar& bar : finding_.bars) {
                    if (std::pair{bar.item, bar.part} == rows_[row]) out += opportunity(bar, y, marks);
                }
            }
        }
        return out;
    }

  private:
    static constexpr double left = 270;
    static constexpr double right = 940;
    static constexpr double top = 40;
    static constexpr double row_height = 24;

    double x(Instant t) const {
        const double share = static_cast<double>(t - begin_) / static_cast<double>(end_ - begin_);
        return left + (right - left) * std::clamp(share, 0.0, 1.0);
    }

    std::string axis() const {
        std::string out;
        const DayNumber first = day_number(zone_.date_of(begin_));
        const DayNumber last = day_number(zone_.date_of(end_));
        const DayNumber step = std::max(1, (last - first + 9) / 10);
        for (DayNumber day = first + 1; day <= last; day += step) {
            const CivilDate date = date_of_day(day);
            const Instant midnight = zone_.begin_of(date);
            out += line("grid", x(midnight), top - 10, x(midnight), height() - 6);
            if (x(midnight) < left + 24) continue;  // room for what the axis shows
            out += text(x(midnight), top - 16, "middle", fmt::format("{:02}-{:02}", date.month, date.day));
        }
        out += text(left - 10, top - 16, "end", "month-day, midnight");
        return out;
    }

    std::string opportunity(const Bar& bar, double y, bool marks) const {
        const Instant closed = bar.closed.value_or(end_);
        std::string out;
        if (marks) {
            out = mark(bar.outcome, x(closed), y + 12);
        } else if (bar.due) {
            const Instant waited = std::min(closed, bar.limit.value_or(*bar.due));
            out = rect("wait", x(bar.opened), x(waited), y + 8, 8);
            if (closed > waited && counts_against(bar.outcome)) {
                out += rect("fill", x(waited), x(closed), y + 5, 14);
                out += rect("texture", x(waited), x(closed), y + 5, 14);
            }
        }
        return fmt::format("<g class=\"outcome {}\">{}</g>", html::outcome_class(bar.outcome), out);
    }
    static std::string rect(std::string_view css_class, double from, double to, double y, double height) {
        return fmt::format(
            "<rect class=\"{}\" x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.0f}\"/>", css_class,
            from, y, std::max(1.0, to - from), height);
    }
    // A disc for met, a diamond for against, a ring for what is not counted.
    static std::string mark(Outcome outcome, double x, double y) {
        if (counts_for(outcome))
            return fmt::format("<circle class=\"mark\" cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"4\"/>", x, y);
        if (counts_against(outcome)) {
            return fmt::format("<path class=\"mark\" d=\"M{:.1f} {:.1f}l6 6l-6 6l-6 -6z\"/>", x, y - 6);
        }
        return fmt::format("<circle class=\"ring\" cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"4\"/>", x, y);
    }

    const Audited& audited_;
    const WorstFinding& finding_;
    const Zone& zone_;
    std::vector<std::pair<std::uint32_t, std::string>> rows_;
    Instant begin_ = 0;
    Instant end_ = 0;
};

}  // namespace

std::string timeline(const Audited& audited, const WorstFinding& finding, const Zone& zone) {
    const TimelineDrawing drawing(audited, finding, zone);
    return "<div class=\"scroll chart\" role=\"region\" tabindex=\"0\" aria-label=\"timeline\">" +
           open_svg("timeline", 960, drawing.height(),
                    audited.keys ? "Timeline of episode " + finding.episode : "Timeline of the episode",
                    "each opportunity from its opening to its due time and its close; the same is in the "
                    "table below") +
           drawing.draw() + "</svg></div>\n";
}

}  // namespace linelaw::runtime::charts

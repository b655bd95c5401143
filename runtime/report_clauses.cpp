// Clause by clause: its sentence, its rate with the interval, its outcomes, its months.
#include <fmt/format.h>

#include "runtime/report_charts.hpp"
#include "runtime/report_html.hpp"
#include "runtime/report_sections.hpp"

namespace linelaw::runtime::sections {
namespace {

using html::escaped;

std::string facts(const AuditedItem& item, const Counts& counts, std::uint64_t line_days) {
    const Rate rate = rate_of(counts);
    std::string list;
    if (item.over_time) {
        if (const auto order = time_in_order(counts)) {
            list += fmt::format(
                "<li>Time in order: {} of the time over which it applied, nothing was past its limit.</li>",
                percent(*order));
        }
    }
    if (const auto median = lateness_quantile(counts, 0.5)) {
        list += fmt::format(
            "<li>Those that came late came {} past the limit (median); nine of ten within {} (from fixed "
            "bins). Those missed never came and are not in these two.</li>",
            lateness_words(*median), lateness_words(*lateness_quantile(counts, 0.9)));
    }
    if (const auto per = per_thousand(rate.against(), line_days); per && rate.exercised()) {
        list +=
            fmt::format("<li>Against, per 1,000 line-days: {:.2f} ({:.2f}–{:.2f}, exact Poisson 95 %).</li>",
                        per->rate, per->interval.low, per->interval.high);
    }
    std::string out = "<div class=\"facts\"><div><div class=\"rate\">";
    if (rate.exercised()) {
        out += fmt::format("{} met<small>{} of {} counted; 95 % interval {}{}</small></div>{}",
                           percent(rate.share), grouped(rate.met), grouped(rate.counted),
                           percent_range(rate.interval), rate.small() ? "; a small number" : "",
                           charts::interval(rate, item.name));
    } else {
        out += "No evidence<small>nothing that counts exercised it; this is not 100 %</small></div>";
    }
    return out + "</div><ul>" + list + "</ul></div>\n";
}

std::string signals(const std::vector<charts::Point>& points) {
    std::vector<double> shares;
    std::string below;
    std::string above;
    for (const charts::Point& point : points) {
        shares.push_back(static_cast<double>(point.met) / static_cast<double>(point.counted));
        if (point.below()) below += (below.empty() ? "" : ", ") + point.label;
        if (point.above()) above += (above.empty() ? "" : ", ") + point.label;
    }
    const RunChart chart = run_chart(shares);
    std::string out;
    if (chart.shift) {
        out += fmt::format(
            "<p class=\"signal\">A shift: {} months in a row on one side of the median; {} is the longest "
            "run to expect by chance with {} useful months.</p>",
            chart.longest_run, *chart.longest_allowed, chart.useful);
    }
    if (chart.few_crossings) {
        out += fmt::format(
            "<p class=\"signal\">The median is crossed {}; with {} useful months at least {} are to be "
            "expected.</p>",
            chart.crossings == 1 ? std::string("once") : fmt::format("{} times", chart.crossings),
            chart.useful, *chart.fewest_allowed);
    }
    if (chart.run_of_six && !chart.shift) {
        out +=
            "<p class=\"meta\">Six or more months in a row stand on one side of the median: a shift by the "
            "rule as it is "
            "often taught, not by the limits that depend on the number of months.</p>";
    }
    if (!below.empty()) {
        out += fmt::format(
            "<p class=\"signal\">Below the control limits (3 standard deviations; diamonds): {}.</p>", below);
    }
    if (!above.empty())
        out += fmt::format("<p class=\"meta\">Above the control limits (diamonds): {}.</p>", above);
    if (out.empty()) {
        out = chart.longest_allowed
                  ? "<p class=\"meta\">No signal: nothing here is more than chance would do.</p>"
                  : "<p class=\"meta\">Fewer than ten useful months: too few for run-chart signals.</p>";
    }
    return out;
}

std::string months(const AuditedItem& item, const Tally& tally, std::size_t index) {
    const std::vector<charts::Point> points = charts::points_by_month(tally, index);
    if (points.size() < 2) return "";
    std::vector<std::vector<std::string>> rows;
    for (const charts::Point& point : points) {
        Rate rate;
        rate.met = point.met;
        rate.counted = point.counted;
        rate.share = static_cast<double>(point.met) / static_cast<double>(point.counted);
        rate.interval = wilson(rate.met, rate.counted);
        rows.push_back({point.label, grouped(rate.met), grouped(rate.counted), percent(rate.share),
                        percent_range(rate.interval), percent_range({point.limits.lower, point.limits.upper}),
                        point.below()   ? "below"
                        : point.above() ? "above"
                                        : ""});
    }
    return "<figure>" + charts::run(points, item.name) + "<figcaption>" + signals(points) +
           "</figcaption></figure>" +
           html::folded("The months as a table", html::table("Share met by month: " + item.name,
                                                             {{"Month", false},
                                                              {"Met", true},
                                                              {"Counted", true},
                                                              {"Share met", true},
                                                              {"95 % interval (Wilson)", true},
                                                              {"Control limits (p-chart, 3 sd)", true},
                                                              {"Signal", false}},
                                                             rows));
}

std::string outcome_table(const AuditedItem& item, const Counts& counts) {
    std::vector<std::vector<std::string>> rows;
    for (std::size_t i = 0; i < outcome_count; ++i) {
        const auto outcome = static_cast<Outcome>(i);
        const char* counted = counts_for(outcome)       ? "for"
                              : counts_against(outcome) ? "against"
                                                        : "not counted";
        rows.push_back({std::string(outcome_words(outcome)), grouped(counts.outcomes[i]), counted});
    }
    return html::folded("The outcomes as a table",
                        html::table("Outcomes: " + item.name,
                                    {{"Outcome", false}, {"Opportunities", true}, {"Counts", false}}, rows));
}

std::string article(const Audited& audited, const Tally& tally, std::size_t index) {
    const AuditedItem& item = audited.items[index];
    const Counts& counts = tally.all.counts[index];
    std::string out =
        fmt::format("<article id=\"{}\"><h3><code>{}</code> <span class=\"badge {}\">{}</span></h3>",
                    html::anchor("item", item.name), escaped(item.name), priority_name(item.priority),
                    priority_name(item.priority));
    out += fmt::format("<p class=\"sentence\">{}</p>\n", escaped(item.sentence));
    out += facts(item, counts, tally.all.line_days);
    if (total_of(counts) > 0) {
        out += charts::outcomes(counts, item.name) + outcome_table(item, counts) + months(item, tally, index);
    }
    for (const std::string& source : item.sources)
        out += fmt::format("<p class=\"meta\">Source: {}.</p>", escaped(source));
    if (!item.advice.empty()) out += fmt::format("<p class=\"meta\">Advice: {}</p>", escaped(item.advice));
    return out + "</article>\n";
}

std::string group(const Audited& audited, const Tally& tally, OriginKind origin) {
    std::string out;
    for (std::size_t i = 0; i < audited.items.size(); ++i) {
        if (audited.items[i].origin == origin) out += article(audited, tally, i);
    }
    return out;
}

}  // namespace

std::string clauses(const Audited& audited, const Tally& tally) {
    std::string out = "<section aria-labelledby=\"clauses\"><h2 id=\"clauses\">Clause by clause</h2>\n" +
                      group(audited, tally, OriginKind::clause) + "</section>\n";
    if (const std::string ladders = group(audited, tally, OriginKind::ladder); !ladders.empty()) {
        out +=
            "<section aria-labelledby=\"ladders\"><h2 id=\"ladders\">Escalations</h2><p>Each step of a "
            "ladder is an "
            "opportunity of its own; so is each hold.</p>\n" +
            ladders + "</section>\n";
    }
    if (const std::string bundles = group(audited, tally, OriginKind::bundle); !bundles.empty()) {
        out +=
            "<section aria-labelledby=\"bundles\"><h2 id=\"bundles\">Bundles, all or none</h2><p>A bundle is "
            "met only "
            "where none of its clauses counts against and none is unassessable.</p>\n" +
            bundles + "</section>\n";
    }
    return out;
}

}  // namespace linelaw::runtime::sections
